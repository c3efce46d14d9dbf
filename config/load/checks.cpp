#include "config/load/checks.h"

#include <algorithm>
#include <map>
#include <tuple>

#include <fmt/format.h>

#include "config/requests.h"

namespace riserkeep {

namespace {

struct Named {
  std::string id, what;
};

std::vector<Named> all_names(const Site& site) {
  std::vector<Named> out{{"box", "the box itself"}};
  for (const auto& s : site.systems) out.push_back({s.id, fmt::format("system '{}'", s.name)});
  for (const auto& s : site.supplies) out.push_back({s.id, fmt::format("supply '{}'", s.name)});
  for (const auto& a : site.analysers) out.push_back({a.id, fmt::format("analyser '{}'", a.name)});
  for (const auto& r : site.rooms) out.push_back({r.id, fmt::format("room '{}'", r.name)});
  for (const auto& l : site.links) out.push_back({l.id, fmt::format("link '{}'", l.id)});
  return out;
}

// Two rooms may share a barometer, two supplies a bypass contact; a system's value is its own.
bool may_share(const Channel& a, const Channel& b) {
  return a.signal == b.signal && a.place.kind == b.place.kind && a.place.kind != PlaceKind::system &&
         a.place.kind != PlaceKind::analyser;
}

bool overlap(const RegisterPoint& a, const RegisterPoint& b) {
  if (std::tie(a.link, a.unit, a.table) != std::tie(b.link, b.unit, b.table)) return false;
  return a.address < b.address + registers_of(b.type) && b.address < a.address + registers_of(a.type);
}

void check_registers(Build& b) {
  const auto& points = b.d.wiring.registers;
  for (std::size_t i = 0; i < points.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      const RegisterPoint& now = points[i];
      const RegisterPoint& before = points[j];
      if (!overlap(now, before)) continue;
      if (now.address == before.address && now.type == before.type &&
          may_share(b.d.site[now.channel], b.d.site[before.channel]))
        continue;
      b.problems.error(b.channel_marks[now.channel.index], b.channel_paths[now.channel.index],
                       fmt::format("'{}' is already read as {} ({})", now.printed,
                                   b.channel_paths[before.channel.index], before.printed),
                       "one register has one meaning: look at the device's sheet; 32-bit values take two registers");
    }
}

void check_coils(Build& b) {
  const auto& coils = b.d.wiring.coils;
  for (std::size_t i = 0; i < coils.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      if (std::tie(coils[i].link, coils[i].unit, coils[i].coil) !=
          std::tie(coils[j].link, coils[j].unit, coils[j].coil))
        continue;
      b.problems.error(b.output_marks[coils[i].output.index], b.output_paths[coils[i].output.index],
                       fmt::format("'{}' already drives {}", coils[i].printed, b.d.site[coils[j].output].id),
                       "give each valve its own relay");
    }
}

void check_topics(Build& b) {
  const auto& topics = b.d.wiring.topics;
  for (std::size_t i = 0; i < topics.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      if (std::tie(topics[i].link, topics[i].topic, topics[i].value_pointer) !=
          std::tie(topics[j].link, topics[j].topic, topics[j].value_pointer))
        continue;
      if (may_share(b.d.site[topics[i].channel], b.d.site[topics[j].channel])) continue;
      b.problems.error(
          b.channel_marks[topics[i].channel.index], b.channel_paths[topics[i].channel.index],
          fmt::format("topic '{}' is already read as {}", topics[i].topic, b.channel_paths[topics[j].channel.index]),
          "tell the two apart by topic or by value: /pointer");
    }
}

// One analyser without ports measures whatever vents: it can belong to one system only.
void check_sharing(Build& b) {
  std::map<AnalyserId, std::string> first;
  for (std::size_t i = 0; i < b.d.site.systems.size(); ++i) {
    const auto& sys = b.d.site.systems[i];
    if (!sys.purity || sys.purity->port) continue;
    const auto [at, fresh] = first.emplace(sys.purity->analyser, sys.name);
    if (fresh || b.wires_optional()) continue;
    b.system_fields[i].error(fmt::format("analyser '{}' has no ports and already measures {}",
                                         b.d.site[sys.purity->analyser].id, at->second),
                             "give it ports, or each system its own analyser");
  }
}

}  // namespace

void check_names(Build& b) {
  const auto names = all_names(b.d.site);
  for (std::size_t i = 0; i < names.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      if (names[i].id != names[j].id || names[i].id.empty()) continue;
      // Systems come first in the list, after the box: those have a place in the file.
      const bool is_system = j >= 1 && j <= b.system_fields.size();
      b.problems.error(is_system ? b.system_fields[j - 1].node->mark : Mark{},
                       is_system ? b.system_fields[j - 1].path : "",
                       fmt::format("{} and {} have the same id '{}'", names[j].what, names[i].what, names[i].id),
                       "rename one of them");
    }
}

void check_wiring(Build& b) {
  check_registers(b);
  check_coils(b);
  check_topics(b);
  check_sharing(b);
  if (b.purpose != Purpose::check) return;
  for (const OutputId o : b.d.wiring.unwired)
    b.problems.warn({}, "", fmt::format("'{}' has no relay; run will refuse", b.d.site[o].id), "add 'relay: relays 1'");
}

}  // namespace riserkeep
