#include "rules/site_names.h"

#include <algorithm>

namespace riserkeep {
namespace {

template <class List>
std::vector<std::string> ids(const List& list) {
  std::vector<std::string> out;
  for (const auto& one : list) out.push_back(one.id);
  return out;
}

Renumbering::From matched(const std::vector<std::string>& saved, const std::vector<std::string>& present) {
  Renumbering::From from;
  for (const std::string& name : present) {
    const auto found = std::ranges::find(saved, name);
    from.push_back(found == saved.end() ? std::nullopt : std::optional(static_cast<std::size_t>(found - saved.begin())));
  }
  return from;
}

}  // namespace

SiteIds names_of(const Site& site) {
  SiteIds n;
  const auto of = [&n](PlaceKind kind) -> auto& { return n.places[static_cast<std::size_t>(kind)]; };
  of(PlaceKind::box) = {"box"};
  of(PlaceKind::room) = ids(site.rooms);
  of(PlaceKind::supply) = ids(site.supplies);
  of(PlaceKind::analyser) = ids(site.analysers);
  of(PlaceKind::system) = ids(site.systems);
  of(PlaceKind::link) = ids(site.links);
  for (const Channel& c : site.channels)
    n.channels.push_back(std::string(place_id(site, c.place)) + " " + std::string(signal_word(c)));
  for (const RecurringWindow& w : site.windows) {
    n.windows.push_back(w.id);
    for (const SystemId s : w.systems) n.windows.back() += " " + site[s].id;
  }
  return n;
}

Renumbering::Renumbering(const SiteIds& saved, const SiteIds& present)
    : channels_(matched(saved.channels, present.channels)) {
  for (std::size_t k = 0; k < kPlaceKinds; ++k) places_[k] = matched(saved.places[k], present.places[k]);
}

std::optional<PlaceId> Renumbering::now(PlaceId saved) const {
  const auto kind = static_cast<std::size_t>(saved.kind);
  if (kind >= kPlaceKinds) return std::nullopt;
  const auto found = std::ranges::find(places_[kind], std::optional<std::size_t>(saved.index));
  if (found == places_[kind].end()) return std::nullopt;
  return PlaceId{saved.kind, static_cast<std::uint16_t>(found - places_[kind].begin())};
}

}  // namespace riserkeep
