#include "rules/notices/cause.h"

#include <algorithm>

#include "rules/alarms/board.h"

namespace riserkeep {
namespace {

constexpr int kDeepest = 4;            // a chain of explanations is followed no further

void add(std::vector<PlaceId>& to, PlaceId p) {
  if (std::ranges::find(to, p) == to.end()) to.push_back(p);
}

void add_direct(const Site& site, PlaceId p, std::vector<PlaceId>& out) {
  if (p.kind == PlaceKind::system) {
    const System& s = site.systems[p.index];
    add(out, s.supply);
    add(out, s.room);
    if (s.purity) add(out, s.purity->analyser);
  }
  if (p.kind == PlaceKind::supply) add(out, site.supplies[p.index].room);
  for (const Channel& c : site.channels)
    if (c.place == p && c.link) add(out, *c.link);
  for (const Output& o : site.outputs)
    if (o.place == p && o.link) add(out, *o.link);
}

}  // namespace

std::vector<PlaceId> upstream(const Site& site, PlaceId p) {
  std::vector<PlaceId> out;
  add_direct(site, p, out);
  for (std::size_t i = 0; i < out.size(); ++i) add_direct(site, PlaceId{out[i]}, out);
  std::erase(out, p);
  return out;
}

std::optional<Explained> explained(const SiteView& view, AlarmKey key, Priority priority) {
  std::optional<Explained> found;
  AlarmKey at = key;
  for (int deep = 0; deep < kDeepest; ++deep, at = found->root) {
    const auto by = view.alarms.explained_by(view.site, at.first, at.second);
    if (!by || by->life->priority() < priority) return found;
    const AlarmKey next{by->alarm, by->place};
    if (next == key) return found;
    found = Explained{found ? found->by : next, next};
  }
  return found;
}

PlaceId shared_by(const Site& site, PlaceId p) {
  if (p.kind == PlaceKind::system) return site.systems[p.index].supply;
  if (p.kind == PlaceKind::link) return PlaceId{};
  return p;
}

bool on_site(const Site& site, PlaceId p) {
  switch (p.kind) {
    case PlaceKind::box: return p.index == 0;
    case PlaceKind::room: return p.index < site.rooms.size();
    case PlaceKind::supply: return p.index < site.supplies.size();
    case PlaceKind::analyser: return p.index < site.analysers.size();
    case PlaceKind::system: return p.index < site.systems.size();
    case PlaceKind::link: return p.index < site.links.size();
  }
  return false;
}

// What another alarm explains is asked of explained(): that one tells its children apart by priority.
bool rests(const SiteView& view, ClassId c, PlaceId p) {
  const auto why = view.alarms.rests(c, p);
  return why && why->reason != RestReason::suppressed;
}

bool unproven(const SiteView& view, ClassId c, PlaceId p) {
  const AlarmLifecycle* life = view.alarms.find(c, p);
  return life && life->unproven();
}

bool clearing(const SiteView& view, ClassId c, PlaceId p) {
  const AlarmLifecycle* life = view.alarms.find(c, p);
  return life && life->clearing();
}

}  // namespace riserkeep
