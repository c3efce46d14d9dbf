#include "daemon/render/status.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/formats/local_time.h"
#include "daemon/formats/rfc3339.h"
#include "daemon/render/parts.h"
#include "daemon/render/people.h"

namespace riserkeep {

using namespace render;

std::string ladder_text(const LadderMarks& m, double top) {
  constexpr int kCells = 26;
  std::string cells(kCells, '.');
  const double per_cell = top / (kCells - 1);
  const auto at = [&](double psi) { return static_cast<std::size_t>(std::clamp<long>(std::lround(psi / per_cell), 0, kCells - 1)); };
  for (std::size_t i = at(m.band_low); i <= at(m.band_high); ++i) cells[i] = '-';
  if (m.has_trip) cells[at(m.trip)] = 'T';
  cells[at(m.low_air)] = 'l';
  cells[at(m.band_low)] = '[';
  cells[at(m.band_high)] = ']';
  if (m.has_now) cells[at(m.now)] = '*';
  return cells;
}

namespace {

double ladder_top(const Json& systems) {
  double top = 50;
  for (const auto& system : systems) top = std::max(top, std::ceil(number(system["air"], "band_high_psi") / 10.0) * 10.0);
  return top;
}

std::string ladder_axis(double top) {
  std::string axis(26, ' ');
  for (int i = 0; i < 5; ++i) {
    const std::string figure = fmt::format("{:.0f}", top / 5 * i);
    axis.replace(static_cast<std::size_t>(i) * 5, figure.size(), figure);
  }
  const std::string last = fmt::format("{:.0f}", top);
  axis.replace(26 - last.size(), last.size(), last);
  return axis;
}

// "Read the air gauge." inside a sentence: "read the air gauge".
std::string within_sentence(std::string act) {
  if (act.size() > 1 && act[1] >= 'a' && act[1] <= 'z') act[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(act[0])));
  while (act.ends_with('.')) act.pop_back();
  return act;
}

std::string sentence(const Json& j) {
  const Json& alarms = j["alarms"];
  const std::size_t quiet = resting(alarms), heard = alarms.size() - quiet;
  for (const auto& alarm : alarms)
    if (!has(alarm, "rest"))
      return fmt::format("{} need{} you. First: {}, {}.", heard, heard == 1 ? "s" : "", upper(text(alarm, "place")),
                         within_sentence(text(alarm, "act")));
  std::string unread;
  std::size_t read = 0;
  for (const auto& system : j["systems"]) {
    if (has(system["air"], "psi")) ++read;
    else unread += (unread.empty() ? "" : ", ") + text(system, "name");
  }
  if (read == 0) return "The box is blind: no system's pressure is being read.";
  const std::string open = quiet == 0 ? "no alarm is open" : fmt::format("what is open rests ({})", quiet);
  if (unread.empty()) return fmt::format("Nothing needs you. All systems are read and {}.", open);
  return fmt::format("Nothing needs you. Not read: {}.", unread);
}

std::string alarm_block(const Json& alarm, const std::string& zone, std::string_view now, const Style& style) {
  constexpr std::size_t kIndent = 22;
  const std::string priority = text(alarm, "priority");
  std::string head = padded(fmt::format("{} {} {}", padded(upper(priority), 6 > priority.size() ? 6 : priority.size()),
                                        text(alarm, "reference"), text(alarm, "place")), kIndent - 1);
  std::string first = width(head) < kIndent ? hanging(head + ' ', alarm_text_of(alarm, zone, now), kIndent)
                                            : head + '\n' + hanging("", alarm_text_of(alarm, zone, now), kIndent);
  const std::size_t end = upper(priority).size();
  first = coloured(style, priority, first.substr(0, end)) + first.substr(end);
  std::string second = text(alarm, "act");
  const std::string state = text(alarm, "state"), by = text(alarm, "by");
  if (state.starts_with("returned")) second = "over; look, then acknowledge it";
  else if (state.starts_with("latched")) second += "; stays until released by name";
  if (!by.empty()) second += "; acknowledged by " + by;
  if (const std::string rest = rest_text(alarm, zone); !rest.empty()) second = rest;
  return first + hanging("", second, kIndent);
}

std::string system_row(const Json& system, double top, const Style& style) {
  const Json& air = system["air"];
  const bool known = has(air, "psi");
  const bool outside = has(air, "in_band") && !air["in_band"].get<bool>();
  const LadderMarks marks{number(air, "band_low_psi"), number(air, "band_high_psi"), number(air, "low_air_psi"),
                          has(air, "trip_psi"), number(air, "trip_psi"), known, number(air, "psi")};
  std::string middle = known ? ladder_text(marks, top)
                             : "not read: " + (text(air, "why_not").empty() ? "no reading" : text(air, "why_not"));
  if (!known && has(air, "last_psi")) middle += ", " + fixed_of(air, "last_psi", 1) + " before";
  const auto names = wrapped(text(system, "name"), 12);
  const std::string figure = right(known ? fixed_of(air, "psi", 1) : "-", 4);
  const std::string vent = has(system, "vent") ? text(system["vent"], "state") : "none";
  std::string row = padded(names[0], 13) + (outside ? style.act("!") : " ") + "  " +
                    (outside ? style.act(figure) : figure) + "  " + padded(middle.substr(0, 26), 26) + "  " +
                    padded(purity_text(system), 22) + "  " + (vent == "open" ? style.bold(vent) : vent) + '\n';
  for (std::size_t i = 1; i < names.size(); ++i) row += names[i] + '\n';
  return row;
}

std::string rooms_and_supplies(const Json& j) {
  std::string out;
  for (const auto& room : j["rooms"]) {
    if (!has(room, "oxygen")) continue;
    const Json& oxygen = room["oxygen"];
    out += has(oxygen, "value")
               ? fmt::format("{} oxygen {} % ({}). ", text(room, "name"), fixed_of(oxygen, "value", 1), span_text(oxygen["age_s"]))
               : fmt::format("{} oxygen: no reading, {}. ", text(room, "name"), text(oxygen, "why_not"));
  }
  for (const auto& supply : j["supplies"]) {
    if (has(supply, "oxygen_percent"))
      out += fmt::format("{}: {} % O2 ({}). ", text(supply, "name"), fixed_of(supply, "oxygen_percent", 1),
                         span_text(supply["oxygen_age_s"]));
    for (const auto& id : supply["refilling"])
      out += fmt::format("{} is refilling {}. ", text(supply, "name"), id.get<std::string>());
  }
  return out;
}

std::string troubles(const Json& j, const std::string& zone) {
  std::string out;
  for (const auto& system : j["systems"])
    if (has(system, "vent") && has(system["vent"], "commissioning") && has(system["vent"]["commissioning"], "asked"))
      out += hanging("", text(system, "name") + ": " + text(system["vent"]["commissioning"], "asked") + ".", 0);
  for (const auto& link : j["links"])
    if (text(link, "state") != "up")
      out += hanging("", fmt::format("Link {}: {}{}.", text(link, "id"), text(link, "state"),
                                     has(link, "trouble") ? ", " + text(link, "trouble") : std::string{}), 0);
  for (const auto& part : j["box"])
    if (has(part, "well") && !part["well"].get<bool>())
      out += hanging("", fmt::format("Box, {}: {}{}.", text(part, "part"), text(part, "why"),
                                     has(part, "since") ? ", since " + clock_of(part["since"], zone) : std::string{}), 0);
  return out;
}

std::string title_left(const Json& j) {
  std::string left = text(j["site"], "name") + " " + text(j["site"], "id");
  if (!j["rooms"].empty()) left += ", " + text(j["rooms"][0], "name");
  return left;
}

}  // namespace

std::string render_status(std::string_view json, const Style& style) {
  const Json j = parsed(json);
  for (const char* key : {"site", "alarms", "systems", "rooms", "supplies", "links", "box"})
    if (!j.contains(key)) throw std::runtime_error("the daemon's answer lacks a part: are both of the same version?");
  const std::string zone = text(j["site"], "time_zone");
  const auto wall = parse_rfc3339(text(j, "time"));
  const std::string now = wall ? local_minute(zone, *wall) : std::string{};

  std::string out = title(title_left(j), j);
  for (const auto& line : wrapped(sentence(j), kColumns)) out += style.bold(line) + '\n';
  out += '\n';
  for (const auto& alarm : j["alarms"]) out += alarm_block(alarm, zone, now, style) + '\n';
  const double top = ladder_top(j["systems"]);
  out += "SYSTEM           AIR  " + ladder_axis(top) + "  PURITY, GRADE, AGE      VENT\n";
  for (const auto& system : j["systems"]) out += system_row(system, top, style);
  out += '\n' + people_lines(j, zone) + troubles(j, zone);
  if (j.contains("messages")) out += messages_text(j["messages"], zone);
  out += hanging("", rooms_and_supplies(j) + "The fire panel rules.", 0);
  return out;
}

}  // namespace riserkeep
