// What the loop says and hears: log lines, signals, the watchdog, the control socket.
#include <signal.h>
#include <spdlog/spdlog.h>

#include <charconv>

#include "daemon/formats/event_json.h"
#include "daemon/runtime/loop.h"
#include "daemon/service/commands.h"
#include "daemon/service/resources_messages.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr auto kStill = std::chrono::seconds(15);   // a bus thread without progress for so long hangs

std::string_view outcome_word(OutputOutcome o) {
  switch (o) {
    case OutputOutcome::confirmed: return "confirmed";
    case OutputOutcome::refused: return "refused";
    case OutputOutcome::expired: return "lease ended";
    case OutputOutcome::found: return "found";
  }
  return {};
}
std::string_view state_word(OutputState s) {
  return s == OutputState::open ? "open" : s == OutputState::shut ? "shut" : "unknown";
}

}  // namespace

void Runtime::Loop::note_input(const Input& input) {
  const Site& site = what_.site;
  if (const auto* link = std::get_if<LinkChanged>(&input)) {
    if (link->up) spdlog::info("link {} is up", site[link->link].id);
    else spdlog::warn("link {} is silent", site[link->link].id);
  } else if (const auto* seen = std::get_if<OutputObserved>(&input)) {
    // "found" says again what a link's own line says, unless it is out of its safe state.
    const bool supply = site[seen->output].kind == OutputKind::supply_valve;
    if (seen->outcome != OutputOutcome::found && site[seen->output].kind == OutputKind::vent) return;   // an event tells it
    if (seen->outcome == OutputOutcome::found && seen->state != (supply ? OutputState::shut : OutputState::open)) return;
    const bool plain = seen->outcome == OutputOutcome::confirmed;
    spdlog::log(plain ? spdlog::level::info : spdlog::level::warn, "{}: {}, {} (order {})", site[seen->output].id,
                outcome_word(seen->outcome), state_word(seen->state), static_cast<std::uint64_t>(seen->order));
  } else if (const auto* health = std::get_if<BoxHealth>(&input)) {
    if (health->well) spdlog::info("box: well again ({})", health->why);
    else spdlog::error("box: {}", health->why);
  } else if (const auto* wall = std::get_if<WallMapped>(&input)) {
    spdlog::info("wall clock mapped, {}", wall->synchronised ? "synchronised" : "not known to be synchronised");
  } else if (const auto* command = std::get_if<OperatorCommand>(&input)) {
    spdlog::info("command by {}", json_string(command->who));
  }
}

void Runtime::Loop::note_effects(const Effects& effects) const {
  for (const auto& [at, effect] : effects) {
    if (const auto* a = std::get_if<AlarmChanged>(&effect))
      spdlog::log(a->change == AlarmChange::raised ? spdlog::level::warn : spdlog::level::info, "alarm {} {}: {}",
                  a->reference, word(a->change), json_string(a->text));
    else if (const auto* v = std::get_if<VentEvent>(&effect))
      spdlog::info("{}: {} (order {}){}{}", what_.site[v->output].id, word(v->change), static_cast<std::uint64_t>(v->order),
                   v->reason.empty() ? "" : ": ", v->reason);
    else if (const auto* n = std::get_if<Note>(&effect))
      spdlog::info("{}: {}", place_id(what_.site, n->place), json_string(n->text));
  }
}

void Runtime::Loop::catch_signals() {
  signals_.async_wait([this](boost::system::error_code e, int signal) {
    if (e) return;
    if (signal == SIGHUP) reload("SIGHUP", {});
    else if (stopping_) spdlog::info("already stopping");
    else {
      spdlog::info("{}: stopping", signal == SIGINT ? "SIGINT" : "SIGTERM");
      io_.stop();
    }
    catch_signals();
  });
}

bool Runtime::Loop::making_progress() const {
  const auto slowest = devices_.slowest_progress();
  return !slowest || std::chrono::steady_clock::now() - *slowest < kStill;
}

void Runtime::Loop::beat() {
  const auto every = liveness_.beat_every();
  if (!every || stopping_) return;
  beat_timer_.expires_after(*every);
  beat_timer_.async_wait([this](boost::system::error_code e) {
    if (e || stopping_) return;
    const bool alive = making_progress();
    if (alive) liveness_.beat();
    else if (!hangs_told_) spdlog::critical("a bus thread hangs: the watchdog is no longer fed");
    hangs_told_ = !alive;
    beat();
  });
}

WallOffset Runtime::Loop::offset() const {
  return engine_.wall_known() ? WallOffset(engine_.wall(EngineTime{}).ms) : std::nullopt;
}

void Runtime::Loop::command(const Request& request, const std::string& name, const Answer& answer) {
  if (name == "notify-test") return notify_test(request, answer);
  auto parsed = parse_command(what_.site, name, request.body);
  if (const auto* wrong = std::get_if<std::string>(&parsed)) return answer(problem(400, *wrong));
  step(std::get<OperatorCommand>(std::move(parsed)), [answer](const CommandAnswer& a) {
    if (a.done) answer({200, "application/json", "{\"done\": true}\n"});
    else answer(problem(409, a.why_not));
  });
  arm();
}

void Runtime::Loop::add_routes() {
  const auto json = [](std::string body) { return Reply{200, "application/json", std::move(body)}; };
  const auto system_of = [this](const PathParts& p) { return find_system(what_.site, p.at(0)); };
  const auto unknown = [this](const PathParts& p) { return problem(404, no_such_system(what_.site, p.at(0))); };
  router_.add("GET", "/v1/health", Role::reader, [this, json](const Request&, const PathParts&, const Answer& answer) {
    answer(json(box_json(engine_.view(), offset(), notes())));
  });
  router_.add("GET", "/v1/status", Role::reader, [this, json](const Request&, const PathParts&, const Answer& answer) {
    const MessagesNote messages{alerts_.summary(), what_.site.people.size(), !what_.delivery.heartbeat_url.empty(), alerts_.heartbeat_trouble()};
    answer(json(status_json(engine_.view(), offset(), notes(), &messages)));
  });
  router_.add("GET", "/v1/alarms", Role::reader, [this, json](const Request&, const PathParts&, const Answer& answer) {
    answer(json(alarms_json(engine_.view(), offset())));
  });
  router_.add("GET", "/v1/systems/{}", Role::reader,
              [this, json, system_of, unknown](const Request&, const PathParts& p, const Answer& answer) {
                const auto system = system_of(p);
                answer(system ? json(system_json(engine_.view(), *system, offset())) : unknown(p));
              });
  router_.add("GET", "/v1/systems/{}/why", Role::reader,
              [this, json, system_of, unknown](const Request&, const PathParts& p, const Answer& answer) {
                const auto system = system_of(p);
                answer(system ? json(why_json(engine_.view(), *system, offset())) : unknown(p));
              });
  router_.add("GET", "/v1/events", Role::reader, [this, json](const Request& r, const PathParts&, const Answer& answer) {
    std::uint64_t after = 0;
    const auto it = r.query.find("after");
    if (it != r.query.end())
      if (const auto [end, e] = std::from_chars(it->second.data(), it->second.data() + it->second.size(), after);
          e != std::errc{} || end != it->second.data() + it->second.size())
        return answer(problem(400, "after must be an event number"));
    answer(json(publisher_.events_after(after)));
  });
  router_.add("POST", "/v1/commands/reload", Role::operator_,
              [this](const Request&, const PathParts&, const Answer& answer) { reload("a command", answer); });
  router_.add("POST", "/v1/commands/{}", Role::operator_,
              [this](const Request& r, const PathParts& p, const Answer& answer) { command(r, p.at(0), answer); });
}

}  // namespace riserkeep
