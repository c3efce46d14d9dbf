// What the loop does beside the engine: a new site file, the calendar, the relay that says the box is well.
#include <spdlog/spdlog.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "config/load/load.h"
#include "daemon/runtime/loop.h"

namespace riserkeep {
namespace {

using nlohmann::json;

constexpr auto kAnswerFirst = std::chrono::milliseconds(250);     // the caller hears before the old loop ends
constexpr auto kStill = std::chrono::seconds(15);
// No wall clock of a running box shows an earlier time: one that does has lost it with its power.
constexpr std::int64_t kPlausible = 1'735'689'600'000;            // 2025-01-01

Reply document(int status, const json& body) {
  return {status, "application/json", body.dump(-1, ' ', false, json::error_handler_t::replace) + "\n"};
}

json lines(const std::vector<Problem>& problems) {
  json out = json::array();
  for (const Problem& p : problems) out.push_back(format_problem(p));
  return out;
}

std::string_view turn_word(CalendarKey key) {
  switch (key) {
    case CalendarKey::morning: return "morning";
    case CalendarKey::quiet_hours: return "quiet hours";
    case CalendarKey::window: return "maintenance window";
    case CalendarKey::chore_due: return "chore due";
    case CalendarKey::purge_due: return "purge due";
    case CalendarKey::all_well: return "daily note";
  }
  return {};
}

}  // namespace

void Runtime::Loop::reload(const std::string& who, const Answer& answer) {
  if (next_ || stopping_) {
    if (answer) answer(problem(409, "a new site file is being taken over already; ask again in some seconds"));
    return;
  }
  Loaded loaded = load_site_file(site_file_, Purpose::run);
  if (!loaded.description) {
    refuse_reload(loaded.problems, answer);
    return;
  }
  for (const Problem& p : loaded.problems) spdlog::warn("{}", format_problem(p));
  const bool changed = loaded.description->text != what_.text;
  spdlog::info("{}: the site file was read again: {}", who, changed ? "it is taken over" : "it is the one in force");
  if (answer)
    answer(document(200, {{"done", true}, {"changed", changed}, {"warnings", lines(loaded.problems)}}));
  if (!changed) {
    if (!engine_.view().box[static_cast<std::size_t>(BoxPart::config)].well)
      step(BoxHealth{BoxPart::config, true, "the site file is the one in force"});
    return;
  }
  next_ = std::move(loaded.description);
  reload_timer_.expires_after(kAnswerFirst);
  reload_timer_.async_wait([this](boost::system::error_code e) {
    if (!e) io_.stop();
  });
}

void Runtime::Loop::refuse_reload(const std::vector<Problem>& problems, const Answer& answer) {
  std::string first;
  std::size_t errors = 0;
  for (const Problem& p : problems) {
    spdlog::error("{}", format_problem(p));
    if (p.warning) continue;
    if (errors++ == 0) first = format_problem(p);
  }
  spdlog::error("the site file is refused, the former one stays in force");
  step(BoxHealth{BoxPart::config, false, errors > 1 ? first + " And " + std::to_string(errors - 1) + " more." : first});
  arm();
  if (answer)
    answer(document(400, {{"error", "the site file is refused, the former one stays in force"}, {"problems", lines(problems)}}));
}

void Runtime::Loop::tell_about_config() {
  const bool well = config_trouble_.empty();
  if (engine_.view().box[static_cast<std::size_t>(BoxPart::config)].well == well) return;
  step(BoxHealth{BoxPart::config, well, well ? "the site file was read" : config_trouble_});
}

// Synchronised, or at least not obviously lost: later than this program and than what the record has seen.
std::optional<WallTime> Runtime::Loop::trusted_wall() const {
  if (!engine_.wall_known()) return std::nullopt;
  const WallTime now = engine_.wall(clock_.now());
  if (wall_trusted_) return now;
  std::int64_t floor = kPlausible;
  if (record_.clock && record_.clock->synchronised && record_.clock->wall_minus_engine_ms)
    floor = std::max(floor, record_.clock->engine.time_since_epoch().count() + *record_.clock->wall_minus_engine_ms);
  return now.ms >= floor ? std::optional(now) : std::nullopt;
}

void Runtime::Loop::turn_calendar() {
  for (const CalendarTurned& turned : calendar_.look(trusted_wall(), *engine_.view().calendar)) {
    spdlog::info("calendar: {} {}", calendar_name(what_.site, turned.key, turned.index), turned.begins ? turn_word(turned.key) : "ends");
    step(turned);
  }
}

void Runtime::Loop::mind_well_output() {
  if (!well_.wired()) return;
  std::string trouble = ready_ ? box_trouble(engine_.view()) : "starting";
  const auto slowest = devices_.slowest_progress();
  if (slowest && std::chrono::steady_clock::now() - *slowest >= kStill) trouble = "a bus thread hangs";
  const std::string before = well_.why_off();
  if (const auto order = well_.look(clock_.now(), trouble)) devices_.order(*order);
  if (const std::string now = well_.why_off(); now != before)
    spdlog::info("the relay that says the box is well: {}", now.empty() ? "on" : "off, " + now);
}

std::vector<LinkNote> Runtime::Loop::notes() const {
  auto all = devices_.troubles();
  if (well_.wired()) all.push_back({std::string(kWellOutputNote), well_.why_off()});
  return all;
}

}  // namespace riserkeep
