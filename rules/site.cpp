#include "rules/site.h"

namespace riserkeep {

std::string_view place_id(const Site& site, PlaceId p) {
  switch (p.kind) {
    case PlaceKind::box: return "box";
    case PlaceKind::room: return site.rooms[p.index].id;
    case PlaceKind::supply: return site.supplies[p.index].id;
    case PlaceKind::analyser: return site.analysers[p.index].id;
    case PlaceKind::system: return site.systems[p.index].id;
    case PlaceKind::link: return site.links[p.index].id;
  }
  return {};
}

std::string_view place_name(const Site& site, PlaceId p) {
  switch (p.kind) {
    case PlaceKind::box: return "box";
    case PlaceKind::room: return site.rooms[p.index].name;
    case PlaceKind::supply: return site.supplies[p.index].name;
    case PlaceKind::analyser: return site.analysers[p.index].name;
    case PlaceKind::system: return site.systems[p.index].name;
    case PlaceKind::link: return site.links[p.index].id;
  }
  return {};
}

namespace {
template <class List>
std::optional<PlaceId> find_in(const List& list, PlaceKind kind, std::string_view id) {
  for (std::size_t i = 0; i < list.size(); ++i)
    if (list[i].id == id) return PlaceId{kind, static_cast<std::uint16_t>(i)};
  return std::nullopt;
}
}  // namespace

std::optional<PlaceId> find_place(const Site& site, std::string_view id) {
  if (id == "box") return PlaceId{};
  if (auto p = find_in(site.systems, PlaceKind::system, id)) return p;
  if (auto p = find_in(site.supplies, PlaceKind::supply, id)) return p;
  if (auto p = find_in(site.analysers, PlaceKind::analyser, id)) return p;
  if (auto p = find_in(site.rooms, PlaceKind::room, id)) return p;
  return find_in(site.links, PlaceKind::link, id);
}

std::optional<SystemId> find_system(const Site& site, std::string_view id_or_name) {
  for (std::size_t i = 0; i < site.systems.size(); ++i)
    if (site.systems[i].id == id_or_name || site.systems[i].name == id_or_name)
      return SystemId{static_cast<std::uint16_t>(i)};
  return std::nullopt;
}

std::string_view signal_word(const Channel& c) {
  return c.signal == Signal::auxiliary ? std::string_view{c.auxiliary_id} : info_of(c.signal).word;
}

std::optional<ChannelId> find_channel(const Site& site, PlaceId place, std::string_view word) {
  for (std::size_t i = 0; i < site.channels.size(); ++i)
    if (site.channels[i].place == place && signal_word(site.channels[i]) == word)
      return ChannelId{static_cast<std::uint16_t>(i)};
  return std::nullopt;
}

}  // namespace riserkeep
