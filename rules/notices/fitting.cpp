// The notices under another site file: places and people have other numbers, some are gone.
#include <algorithm>

#include "rules/notices/cause.h"
#include "rules/notices/notices.h"

namespace riserkeep {

void Notices::fit(const Site& site) {
  const auto gone = [&](AlarmKey k) { return !on_site(site, k.second); };
  std::erase_if(points_, [&](const auto& p) { return gone(p.first); });
  for (auto* list : {&gathering_, &explained_, &resting_, &returned_}) std::erase_if(*list, gone);
  for (auto t = topics_.begin(); t != topics_.end();) {
    std::erase_if(t->second.members, [&](const Member& m) { return gone(m.key()); });
    std::erase_if(t->second.told, [&](Told& known) {
      const auto now = people_.same_person(site, known.person);
      if (now) known.person = *now;
      return !now;
    });
    t = t->second.members.empty() ? topics_.erase(t) : std::next(t);
  }
  people_.fit(site);
}

void Notices::moved(const Where& where) {
  const auto now = [&](AlarmKey& k) {
    const auto place = where(k.second);
    if (place) k.second = *place;
    return place.has_value();
  };
  std::map<AlarmKey, Watched> points;
  for (auto& [key, p] : points_) {
    AlarmKey fresh = key;
    if (!now(fresh)) continue;
    p.member.place = fresh.second;
    if (!now(p.parent)) p.parent = fresh;
    points.emplace(fresh, std::move(p));
  }
  points_ = std::move(points);
  for (auto* list : {&gathering_, &explained_, &resting_, &returned_})
    std::erase_if(*list, [&](AlarmKey& k) { return !now(k); });
  for (auto t = topics_.begin(); t != topics_.end();) {
    std::erase_if(t->second.members, [&](Member& m) {
      const auto place = where(m.place);
      if (place) m.place = *place;
      return !place;
    });
    t = t->second.members.empty() ? topics_.erase(t) : std::next(t);
  }
  people_.moved(where);
}

void People::moved(const std::function<std::optional<PlaceId>(PlaceId)>& where) {
  for (Receiver& r : receivers_)
    for (auto* list : {&r.held, &r.beyond})
      for (Draft& d : *list) d.place = where(d.place).value_or(PlaceId{});
}

}  // namespace riserkeep
