#include "daemon/commands/people.h"

#include <fmt/format.h>

#include <charconv>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "daemon/commands/exit_codes.h"
#include "daemon/commands/remote_ask.h"
#include "daemon/formats/local_time.h"
#include "daemon/formats/rfc3339.h"

namespace riserkeep {
namespace {

using nlohmann::json;

std::optional<int> minute_of_day(const std::string& clock) {
  int h = 0, m = 0;
  const auto colon = clock.find(':');
  if (colon == std::string::npos || colon + 3 != clock.size()) return std::nullopt;
  const char* const text = clock.data();
  const auto hour = std::from_chars(text, text + colon, h), minute = std::from_chars(text + colon + 1, text + clock.size(), m);
  const bool whole = hour.ec == std::errc{} && hour.ptr == text + colon && minute.ec == std::errc{} && minute.ptr == text + clock.size();
  return whole && h >= 0 && h < 24 && m >= 0 && m < 60 ? std::optional{h * 60 + m} : std::nullopt;
}

// Seconds until the next HH:MM of the site's zone, by the daemon's clock.
std::optional<double> until_clock(const Remote& remote, const std::string& clock, int& code) {
  const auto minute = minute_of_day(clock);
  if (!minute) {
    fmt::print(stderr, "'{}' is no time of day; write 17:00\n", clock);
    code = kUsage;
    return std::nullopt;
  }
  const auto answer = ask_daemon(remote, "GET", "/v1/status");
  if (code = explain(answer); code != kDone) return std::nullopt;
  const json j = json::parse(answer.reply.body, nullptr, false);
  const bool told = j.is_object() && j.contains("time") && j["time"].is_string() && j.contains("site");
  const auto now = told ? parse_rfc3339(j["time"].get<std::string>()) : std::nullopt;
  if (!now) {
    fmt::print(stderr, "the daemon does not know the time of day; give --for instead\n");
    code = kFailed;
    return std::nullopt;
  }
  const WallTime at = next_local_minute(j["site"].value("time_zone", std::string("UTC")), *now, *minute);
  return static_cast<double>(at.ms - now->ms) / 1000.0;
}

// Puts "for_s" into the body. 0, or the exit code.
int put_span(const Remote& remote, const Span& span, json& body) {
  if (span.how_long.empty() && span.until.empty()) return kDone;
  int code = kDone;
  const auto s = span.until.empty() ? seconds_of(span.how_long) : until_clock(remote, span.until, code);
  if (!s && code == kDone) {
    fmt::print(stderr, "'{}' is no length of time; write 8h, \"90 min\" or 2d\n", span.how_long);
    return kUsage;
  }
  if (s) body["for_s"] = *s;
  return code;
}

std::string until_text(const Span& span) { return span.until.empty() ? "for " + span.how_long : "until " + span.until; }

}  // namespace

std::optional<double> seconds_of(const std::string& said) {
  double value = 0;
  const auto [end, error] = std::from_chars(said.data(), said.data() + said.size(), value);
  if (error != std::errc{} || !(value > 0)) return std::nullopt;
  std::string_view unit(end, static_cast<std::size_t>(said.data() + said.size() - end));
  while (unit.starts_with(' ')) unit.remove_prefix(1);
  for (const auto& [word, factor] : {std::pair<std::string_view, double>{"s", 1}, {"min", 60}, {"m", 60}, {"h", 3600}, {"d", 86400}})
    if (unit == word) return value * factor;
  return std::nullopt;
}

int shelve_command(const Remote& remote, const ShelveOptions& o, const std::string& by) {
  json body{{"target", o.target}, {"until_clear", o.until_clear}, {"why", o.why}, {"by", by}};
  if (const int code = put_span(remote, o.span, body); code != kDone) return code;
  const bool open_end = o.span.how_long.empty() && o.span.until.empty();
  return send_command(remote, "shelve", body, fmt::format("{} is shelved {} by {}.", o.target, open_end ? "until it clears, 24 h at most," : until_text(o.span), by));
}

int unshelve_command(const Remote& remote, const std::string& target, const std::string& by) {
  return send_command(remote, "unshelve", {{"target", target}, {"by", by}}, fmt::format("{} is no longer shelved.", target));
}

int service_command(const Remote& remote, const std::string& target, bool out, const std::string& why, const std::string& by) {
  return send_command(remote, "out-of-service", {{"target", target}, {"out", out}, {"why", why}, {"by", by}},
              fmt::format("{} is {} by {}.", target, out ? "taken out of service" : "put back in service", by));
}

int work_start_command(const Remote& remote, const WorkStartOptions& o, const std::string& by) {
  json body{{"system", o.system}, {"what", o.what}, {"by", by}};
  if (const int code = put_span(remote, o.span, body); code != kDone) return code;
  return send_command(remote, "work-start", body,
              fmt::format("Work on {} {}, by {}. Its vent is locked; expected alarms are recorded but quiet.", o.system, until_text(o.span), by));
}

int work_end_command(const Remote& remote, const WorkEndOptions& o, const std::string& by) {
  return send_command(remote, "work-end",
              {{"system", o.system}, {"reset", o.reset}, {"drained", o.drained}, {"water_valve_open", o.water_valve_open},
               {"gas", o.gas}, {"except", o.except}, {"by", by}},
              fmt::format("Work on {} is ended by {}.", o.system, by));
}

int chore_command(const Remote& remote, const ChoreOptions& o, const std::string& by) {
  json body{{"place", o.place}, {"chore", o.chore}, {"remark", o.remark}, {"by", by}};
  if (o.as_found) body["as_found"] = *o.as_found;
  if (o.as_left) body["as_left"] = *o.as_left;
  return send_command(remote, "chore", body, fmt::format("{}: {} noted, by {}.", o.place, o.chore, by));
}

int repair_command(const Remote& remote, const std::string& place, const std::string& what, const std::string& by) {
  return send_command(remote, "repair", {{"place", place}, {"what", what}, {"by", by}}, fmt::format("{}: repair noted, by {}.", place, by));
}

}  // namespace riserkeep
