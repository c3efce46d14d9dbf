// `riserkeep commission`: starts the pulse and follows it to its end.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <iostream>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>

#include "daemon/commands/exit_codes.h"
#include "daemon/commands/remote.h"
#include "daemon/commands/remote_ask.h"
#include "daemon/render/style.h"

namespace riserkeep {
namespace {

using nlohmann::json;
using namespace std::chrono_literals;

constexpr auto kLongest = 90min;       // of pulse, read-back, refill and shut watch together

std::string text(const json& j, const char* key) { return j.contains(key) && j[key].is_string() ? j[key].get<std::string>() : ""; }

bool confirmed(const CommissionOptions& o) {
  if (o.yes) return true;
  if (::isatty(STDIN_FILENO) != 1) {
    fmt::print(stderr, "commission opens the vent of {} for a short pulse. Nobody can be asked here (no terminal): "
                       "repeat with --yes.\n", o.system);
    return false;
  }
  fmt::print(stderr, "This opens the vent of {} for a short pulse and watches the pressure. Its hand valve must be open,\n"
                     "nobody may work on the system, and the fire panel's people must know. Go on? [y/N] ", o.system);
  std::string line;
  return std::getline(std::cin, line) && (line == "y" || line == "Y" || line == "yes");
}

struct Follow {
  const Remote& remote;
  const CommissionOptions& options;
  std::string id;
  std::uint64_t seen = 0;              // last event
  double started_ms = 0;               // engine time of the commissioning on record before this one
  std::string last_said;

  json look() const {
    const auto a = ask_daemon(remote, "GET", "/v1/systems/" + percent_encoded(options.system));
    return exit_code_of(a) == kDone ? json::parse(a.reply.body, nullptr, false) : json();
  }
  static double commissioned_ms(const json& system) {
    if (!system.is_object() || !system.contains("vent") || !system["vent"].is_object()) return 0;
    const json& c = system["vent"]["commissioning"];
    return c.is_object() && c.value("done", false) ? c.value("at_engine_ms", 0.0) : 0;
  }
  void say(const std::string& line) {
    if (line != last_said) fmt::print(stderr, "  {}\n", without_controls(line));
    last_said = line;
  }
  // What the daemon said about this system since; gives the last note.
  std::string events() {
    const auto a = ask_daemon(remote, "GET", fmt::format("/v1/events?after={}", seen));
    const json j = exit_code_of(a) == kDone ? json::parse(a.reply.body, nullptr, false) : json();
    std::string note;
    if (!j.is_object() || !j.contains("events")) return note;
    for (const auto& e : j["events"]) {
      if (text(e, "point") != id) continue;
      if (text(e, "kind") == "vent") say(fmt::format("vent: {}{}", text(e, "change"), text(e, "reason").empty() ? "" : ", " + text(e, "reason")));
      if (text(e, "kind") == "note") say(note = text(e, "text"));
    }
    seen = std::max(seen, j.value("newest", seen));
    return note;
  }
};

int follow(Follow& f) {
  auto deadline = std::chrono::steady_clock::now() + kLongest;   // the daemon bounds how long one may wait
  std::string last_note, last_phase;
  int idle = 0;
  bool waits = false;
  while (std::chrono::steady_clock::now() < deadline) {
    std::this_thread::sleep_for(1s);
    if (auto note = f.events(); !note.empty()) last_note = std::move(note);
    const json system = f.look();
    if (!system.is_object() || !system.contains("vent") || !system["vent"].is_object()) {
      fmt::print(stderr, "The daemon no longer answers. The vent closes by itself when its lease ends.\n");
      return kNotRunning;
    }
    const json& vent = system["vent"];
    if (const double at = Follow::commissioned_ms(system); at > f.started_ms) {
      fmt::print("{}: commissioned by {}.\n", f.options.system, f.options.by);
      return kDone;
    }
    const std::string phase = text(vent, "phase");
    if (phase != last_phase) {
      const std::string psi = system["air"]["psi"].is_number() ? fmt::format(", {:.2f} psi", system["air"]["psi"].get<double>()) : "";
      f.say(phase + psi);
    }
    last_phase = phase;
    const std::string asked = vent.contains("commissioning") ? text(vent["commissioning"], "asked") : "";
    if (!asked.empty()) {
      if (!waits) fmt::print(stderr, "  asked for; starts at the next free turn. Ctrl-C leaves it waiting; `mode {} watch` drops it.\n", f.options.system);
      waits = true;
      deadline = std::chrono::steady_clock::now() + kLongest;
    }
    waits = !asked.empty();
    idle = phase == "idle" && asked.empty() ? idle + 1 : 0;
    if (idle < 5) continue;
    std::string why = vent.contains("commissioning") ? text(vent["commissioning"], "why_not") : "";
    if (why.empty()) why = last_note.empty() ? "the daemon gave up; see `why` and `status`" : last_note;
    fmt::print(stderr, "Refused: {}\n", without_controls(why));
    return kRefused;
  }
  fmt::print(stderr, "No result within {} min; look at `why {}`.\n", std::chrono::duration_cast<std::chrono::minutes>(kLongest).count(),
             f.options.system);
  return kFailed;
}

}  // namespace

int commission_command(const Remote& remote, const CommissionOptions& options) {
  if (!confirmed(options)) return kRefused;
  const auto before = ask_daemon(remote, "GET", "/v1/systems/" + percent_encoded(options.system));
  if (const int code = explain(before); code != kDone) return code;
  const json system = json::parse(before.reply.body, nullptr, false);
  Follow f{remote, options, text(system, "id"), 0, Follow::commissioned_ms(system), {}};
  const auto events = ask_daemon(remote, "GET", "/v1/events?after=18446744073709551615");
  const json newest = json::parse(events.reply.body, nullptr, false);
  if (newest.is_object()) f.seen = newest.value("newest", std::uint64_t{0});

  json body{{"system", options.system}, {"by", options.by}};
  if (options.gauge_psi) body["gauge_psi"] = *options.gauge_psi;
  const auto started = ask_daemon(remote, "POST", "/v1/commands/commission", body.dump(-1, ' ', false, json::error_handler_t::replace));
  if (const int code = explain(started); code != kDone) return code;
  fmt::print(stderr, "{}: the pulse has been taken on. Ctrl-C leaves it to the daemon.\n", options.system);
  return follow(f);
}

}  // namespace riserkeep
