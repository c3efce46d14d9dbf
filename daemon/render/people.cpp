#include "daemon/render/people.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "daemon/render/parts.h"

namespace riserkeep::render {
namespace {

const Json& list_of(const Json& j, const char* key) {
  static const Json none = Json::array();
  const auto it = j.find(key);
  return it != j.end() && it->is_array() ? *it : none;
}

std::string because(const Json& item) {
  const std::string why = text(item, "why");
  return why.empty() ? "" : ": " + why;
}

std::string work_lines(const Json& j, const std::string& zone) {
  std::string out;
  for (const auto& w : list_of(j, "work")) {
    const std::string by = text(w, "by").empty() ? "" : ", by " + text(w, "by");
    const std::string end = has(w, "over_s") ? fmt::format("was to end {}, {} ago", clock_of(w["until"], zone), span_text(w["over_s"]))
                                             : "until " + clock_of(w["until"], zone);
    const bool quiet = has(w, "quiet") && w["quiet"].get<bool>();
    out += hanging("", fmt::format("Work on {}: {}{}, {}. Vent locked, {}.", text(w, "name"), text(w, "what"), by, end,
                                   quiet ? "expected alarms quiet" : "alarms told again"), 0);
  }
  return out;
}

std::string resting_lines(const Json& j, const std::string& zone) {
  std::string out;
  for (const auto& s : list_of(j, "shelved"))
    out += hanging("", fmt::format("Shelved: {} by {} until {}{}.", text(s, "target"), text(s, "by"), clock_of(s["until"], zone), because(s)), 0);
  for (const auto& r : list_of(j, "out_of_service"))
    out += hanging("", fmt::format("Out of service: {} by {}, {}{}.", text(r, "target"), text(r, "by"), span_text(r["for_s"]), because(r)), 0);
  return out;
}

std::string overdue_lines(const Json& j, const std::string& zone) {
  std::string out;
  for (const auto& c : list_of(j, "chores_overdue"))
    out += hanging("", fmt::format("Nobody looked: {}, {}, due {}; {}.", text(c, "place"), text(c, "chore"), clock_of(c["due"], zone),
                                   has(c, "done") ? "last " + clock_of(c["done"], zone) + " by " + text(c, "by")
                                                  : "never since " + clock_of(c["never_since"], zone)), 0);
  return out;
}

std::string figures_line(const Json& j) {
  if (!has(j, "alarm_figures") || number(j["alarm_figures"], "last_7_d") <= 0) return {};
  const Json& f = j["alarm_figures"];
  std::string out = fmt::format("Alarms told: {} in the last hour, {} in 7 d, at most {} in 10 min", number(f, "last_hour"),
                                number(f, "last_7_d"), number(f, "peak_10_min_7d"));
  if (has(f, "flood") && f["flood"].get<bool>()) out += "; a flood now";
  if (const Json& top = list_of(f, "top"); !top.empty())
    out += fmt::format("; most: {} ({})", text(top[0], "point"), number(top[0], "raises"));
  if (const Json& stale = list_of(f, "stale"); !stale.empty()) out += fmt::format("; over a day: {}", stale.size());
  if (const Json& chatter = list_of(f, "chattering"); !chatter.empty()) out += "; chattering: " + text(chatter[0], "point");
  return hanging("", out + ".", 0);
}

}  // namespace

std::string people_lines(const Json& j, const std::string& zone) {
  return work_lines(j, zone) + resting_lines(j, zone) + overdue_lines(j, zone) + figures_line(j);
}

std::string rest_text(const Json& alarm, const std::string& zone) {
  if (!has(alarm, "rest")) return {};
  const Json& rest = alarm["rest"];
  std::string out = "quiet";
  const std::string reason = text(rest, "reason"), by = text(rest, "by"), why = text(rest, "why");
  if (reason == "shelved" || reason == "out_of_service") out += reason == "shelved" ? ", shelved" : ", out of service";
  if (!by.empty()) out += " by " + by;
  if (has(rest, "until")) out += " until " + clock_of(rest["until"], zone);
  return out + (why.empty() ? "" : ": " + why);
}

std::size_t resting(const Json& alarms) {
  std::size_t n = 0;
  for (const auto& a : alarms) if (has(a, "rest")) ++n;
  return n;
}

}  // namespace riserkeep::render
