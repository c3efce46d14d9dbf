#include "daemon/render/parts.h"

#include <nlohmann/json.hpp>
#include <stdexcept>

#include "daemon/formats/local_time.h"
#include "daemon/formats/rfc3339.h"
#include "rules/text.h"

namespace riserkeep::render {

Json parsed(std::string_view json) {
  Json j = Json::parse(json, nullptr, false);
  if (!j.is_object()) throw std::runtime_error("the daemon's answer cannot be read: are both of the same version?");
  return j;
}

std::string text(const Json& object, const char* key) {
  const auto it = object.find(key);
  return it != object.end() && it->is_string() ? without_controls(it->get<std::string>()) : std::string{};
}

bool has(const Json& object, const char* key) {
  const auto it = object.find(key);
  return it != object.end() && !it->is_null();
}

double number(const Json& object, const char* key) {
  const auto it = object.find(key);
  return it != object.end() && it->is_number() ? it->get<double>() : 0.0;
}

std::string fixed_of(const Json& object, const char* key, int decimals) { return fixed(number(object, key), decimals); }

std::string span_text(const Json& span) {
  if (!span.is_number()) return "?";
  const auto s = span.get<std::int64_t>();
  if (s < 120) return std::to_string(s < 0 ? 0 : s) + " s";
  return duration_text(seconds(s));
}

std::string clock_of(const Json& time, const std::string& zone) {
  const auto wall = time.is_string() ? parse_rfc3339(time.get<std::string>()) : std::nullopt;
  return wall ? local_minute(zone, *wall) : std::string("unknown time");
}

std::string title(std::string_view left, const Json& document) {
  const auto site = document.find("site");
  const std::string zone = site != document.end() ? text(*site, "time_zone") : std::string("UTC");
  const auto wall = parse_rfc3339(text(document, "time"));
  const std::string now = wall ? local_stamp(zone, *wall) : "clock not known";
  if (width(left) + 1 + width(now) > kColumns) return std::string(left) + '\n' + right(now, kColumns) + '\n';
  return std::string(left) + right(now, kColumns - width(left)) + '\n';
}

std::string purity_text(const Json& system) {
  if (!has(system, "purity")) return "not measured";
  const Json& p = system["purity"];
  if (!has(p, "purity_percent")) return "not known";
  std::string grade = text(p, "grade");
  if (grade == "verified at far end") grade = "far end";
  if (grade == "verified at riser") grade = "at riser";
  return fixed_of(p, "purity_percent", 1) + " % " + grade + " " + span_text(p["age_s"]);
}

std::string alarm_text_of(const Json& alarm, const std::string& zone, std::string_view now) {
  std::string out = text(alarm, "what");
  const int decimals = static_cast<int>(number(alarm, "decimals"));
  const std::string unit = text(alarm, "unit");
  if (has(alarm, "value")) out += ": " + fixed_of(alarm, "value", decimals) + (unit.empty() ? "" : " " + unit);
  if (has(alarm, "limit")) out += ", limit " + fixed_of(alarm, "limit", decimals);
  std::string since = clock_of(alarm["since"], zone);
  if (now.size() > 6 && since.starts_with(now.substr(0, now.size() - 6))) since = since.substr(since.size() - 5);
  out += ", since " + since + " (" + span_text(alarm["for_s"]) + ")";
  const std::string cause = text(alarm, "cause");
  if (!cause.empty()) out += "; " + cause;
  return out;
}

std::string coloured(const Style& style, std::string_view priority, std::string_view words) {
  if (priority == "critical" || priority == "high") return style.act(words);
  if (priority == "medium") return style.see(words);
  return std::string(words);
}

}  // namespace riserkeep::render
