#include "daemon/render/why.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "daemon/formats/local_time.h"
#include "daemon/formats/rfc3339.h"
#include "daemon/render/parts.h"

namespace riserkeep {
namespace {

using namespace render;

constexpr std::size_t kNow = 26, kNeeds = 56;   // where the columns begin

std::string check_row(const Json& check, const Style& style) {
  const bool asked = check.value("asked", true), ok = check.value("ok", true);
  const std::string mark = !asked ? "--" : ok ? "ok" : "NO";
  const auto what = wrapped(text(check, "what"), kNow - 6);
  const auto now = wrapped(text(check, "now"), kNeeds - kNow - 1);
  const auto needs = wrapped(!asked && text(check, "needs").empty() ? std::string("not asked") : text(check, "needs"),
                             kColumns - kNeeds);
  std::string out;
  for (std::size_t i = 0; i < std::max({what.size(), now.size(), needs.size()}); ++i) {
    const auto cell = [i](const std::vector<std::string>& lines) { return i < lines.size() ? lines[i] : std::string{}; };
    std::string line = padded(i == 0 ? mark : "", 5) + padded(cell(what), kNow - 5) + padded(cell(now), kNeeds - kNow) + cell(needs);
    line.erase(line.find_last_not_of(' ') + 1);
    if (i == 0 && mark == "NO") line = style.act(line.substr(0, 2)) + line.substr(2);
    out += line + '\n';
  }
  return out;
}

std::string closing_lines(const Json& j, const std::string& zone) {
  std::string out;
  std::size_t no = 0;
  for (const auto& check : j["checks"])
    if (check.value("asked", true) && !check.value("ok", true)) ++no;
  const Json& system = j["system"];
  if (no == 1) out += "It may open when this NO is gone.\n";
  if (no > 1) out += fmt::format("It may open when all {} NO are gone.\n", no);
  if (has(system, "vent")) {
    const Json& vent = system["vent"];
    if (has(vent, "shut_by")) out += fmt::format("Shut by {} at the latest.\n", clock_of(vent["shut_by"], zone));
    else if (has(j, "next_look")) out += fmt::format("Next look {}.\n", clock_of(j["next_look"], zone));
    if (vent.value("locked", false)) out += hanging("Locked:", text(vent, "locked_why"), 8);
    if (has(vent, "commissioning") && has(vent["commissioning"], "why_not"))
      out += hanging("Commissioning:", text(vent["commissioning"], "why_not"), 15);
  }
  if (has(system, "air") && has(system["air"], "trip_from"))
    out += hanging("Trip:", fixed_of(system["air"], "trip_psi", 1) + " psi: " + text(system["air"], "trip_from") + ".", 6);
  if (has(system, "purity")) {
    const Json& p = system["purity"];
    std::string line = purity_text(system);
    if (has(p, "where") && has(p, "how")) line += fmt::format(" old ({}, {})", text(p, "where"), text(p, "how"));
    if (has(p, "ledger_high95")) line += fmt::format("; ledger: at most {} % O2", fixed_of(p, "ledger_high95", 1));
    out += hanging("Purity:", line + fmt::format("; target {} %.", fixed_of(p, "target_percent", 1)), 8);
  }
  return out;
}

}  // namespace

std::string render_why(std::string_view json, const Style& style) {
  const Json j = parsed(json);
  for (const char* key : {"site", "system", "checks", "alarms"})
    if (!j.contains(key)) throw std::runtime_error("the daemon's answer lacks a part: are both of the same version?");
  const std::string zone = text(j["site"], "time_zone");
  const auto wall = parse_rfc3339(text(j, "time"));
  const std::string now = wall ? local_minute(zone, *wall) : std::string{};

  std::string out = title(upper(text(j["system"], "name")) + ": " + text(j, "question"), j);
  for (const auto& line : wrapped(text(j, "sentence"), kColumns)) out += style.bold(line) + '\n';
  if (!j["checks"].empty()) {
    out += '\n' + padded("     to open", kNow) + padded("now", kNeeds - kNow) + "needs\n";
    for (const auto& check : j["checks"]) out += check_row(check, style);
  }
  const std::string closing = closing_lines(j, zone);
  if (!closing.empty()) out += '\n' + closing;
  if (j.contains("findings"))
    for (const auto& finding : j["findings"]) out += hanging("Found:", without_controls(finding.get<std::string>()), 7);
  for (const auto& alarm : j["alarms"]) {
    const std::string priority = text(alarm, "priority");
    out += hanging("Alarm", fmt::format("{} {}: {}.", text(alarm, "reference"), upper(priority),
                                        alarm_text_of(alarm, zone, now)), 6);
  }
  return out;
}

}  // namespace riserkeep
