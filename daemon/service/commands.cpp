#include "daemon/service/commands.h"

#include <fmt/format.h>

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "daemon/service/command_parts.h"

namespace riserkeep {
namespace {

using namespace command;
using json = Json;

What acknowledge(const Site&, const json& body) { return Acknowledge{text_of(body, "reference", 20)}; }
What release(const Site& site, const json& body) { return Release{system_of(site, body)}; }

What set_mode(const Site& site, const json& body) {
  const auto system = system_of(site, body);
  const auto mode = text_of(body, "mode", 20);
  if (mode == "watch") return SetMode{system, Mode::watch};
  if (mode == "purge") return SetMode{system, Mode::purge};
  if (mode == "keep") return SetMode{system, Mode::keep};
  throw Wrong(fmt::format("\"{}\" is no mode; say watch, purge or keep", mode));
}

What commission(const Site& site, const json& body) {
  Commission c{system_of(site, body)};
  if (const auto gauge = number_of(body, "gauge_psi")) {
    if (*gauge < 0 || *gauge > 300) throw Wrong("\"gauge_psi\" must be between 0 and 300 psi");
    c.gauge_compared = true;
    c.gauge_psi = *gauge;
  }
  return c;
}

What lock(const Site& site, const json& body) {
  return LockOut{system_of(site, body), flag_of(body, "locked"), text_of(body, "why", 200, false)};
}

What hand_reading(const Site& site, const json& body) {
  const auto name = text_of(body, "place", 200);
  std::optional<PlaceId> place = find_place(site, name);
  if (const auto system = find_system(site, name)) place = PlaceId(*system);
  const auto word = text_of(body, "kind", 20);
  const auto kind = word == "far-end" ? HandReadingKind::far_end : word == "riser" ? HandReadingKind::riser
                                                                                   : HandReadingKind::air_check;
  if (kind == HandReadingKind::air_check && word != "air-check")
    throw Wrong(fmt::format("\"{}\" is no kind of reading; say far-end, riser or air-check", word));
  const PlaceKind wanted = kind == HandReadingKind::air_check ? PlaceKind::analyser : PlaceKind::system;
  if (!place || place->kind != wanted)
    throw Wrong(fmt::format("\"{}\" is no {}; there are: {}", name,
                            wanted == PlaceKind::system ? "system" : "analyser", ids_of(site, true)));
  const auto oxygen = number_of(body, "oxygen_percent");
  if (!oxygen) throw Wrong("\"oxygen_percent\" is missing: oxygen by volume as the meter shows it");
  if (*oxygen < 0 || *oxygen > 25)
    throw Wrong(fmt::format("{:.1f} % is no oxygen reading (0 to 25 %); a purity must be given as oxygen: 100 minus purity",
                            *oxygen));
  return HandReading{*place, kind, OxygenFraction::clamped(*oxygen / 100.0), text_of(body, "meter", 100, false)};
}

What test_notice(const Site& site, const json& body) {
  const auto name = text_of(body, "person", 200);
  std::string ids;
  for (std::size_t i = 0; i < site.people.size(); ++i) {
    if (site.people[i].id == name) return TestNotice{PersonId{static_cast<std::uint16_t>(i)}};
    ids += (ids.empty() ? "" : ", ") + site.people[i].id;
  }
  throw Wrong(fmt::format("there is no person \"{}\"; there are: {}", name, ids.empty() ? "none" : ids));
}

constexpr auto kCommands = std::to_array<Row>({
    {"ack", acknowledge}, {"release", release}, {"mode", set_mode}, {"commission", commission}, {"lock", lock},
    {"reading", hand_reading}, {"shelve", shelve}, {"unshelve", unshelve}, {"out-of-service", out_of_service},
    {"work-start", work_start}, {"work-end", work_end}, {"chore", chore}, {"repair", repair},
    {"notify-test", test_notice}});

}  // namespace

std::string no_such_system(const Site& site, std::string_view name) {
  return fmt::format("there is no system \"{}\"; there are: {}", name, ids_of(site, false));
}

std::vector<std::string_view> command_names() {
  std::vector<std::string_view> names;
  for (const auto& row : kCommands) names.push_back(row.name);
  return names;
}

std::variant<OperatorCommand, std::string> parse_command(const Site& site, std::string_view name, std::string_view body) {
  const json parsed = json::parse(body, nullptr, false);
  if (!parsed.is_object()) return std::string("the body must be a JSON object");
  for (const auto& row : kCommands) {
    if (row.name != name) continue;
    try {
      return OperatorCommand{text_of(parsed, "by", 80), row.parse(site, parsed)};
    } catch (const Wrong& e) {
      return std::string(e.what());
    }
  }
  std::string names;
  for (const auto n : command_names()) names += fmt::format("{}{}", names.empty() ? "" : ", ", n);
  return fmt::format("there is no command \"{}\"; there are: {}", name, names);
}

}  // namespace riserkeep
