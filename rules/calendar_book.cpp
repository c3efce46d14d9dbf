#include "rules/calendar_book.h"

#include <algorithm>
#include <set>

namespace riserkeep {
namespace {

std::size_t many(const Site& site, CalendarKey key) {
  switch (key) {
    case CalendarKey::morning:
    case CalendarKey::quiet_hours: return site.people.size();
    case CalendarKey::window: return site.windows.size();
    case CalendarKey::chore_due: return site.chores.size();
    case CalendarKey::purge_due: return site.systems.size();
    case CalendarKey::all_well: return 1;
  }
  return 0;
}

constexpr CalendarKey kKeys[] = {CalendarKey::morning,   CalendarKey::quiet_hours, CalendarKey::window,
                                 CalendarKey::chore_due, CalendarKey::purge_due,   CalendarKey::all_well};

}  // namespace

std::string calendar_name(const Site& site, CalendarKey key, std::uint16_t index) {
  if (index >= many(site, key)) return {};
  switch (key) {
    case CalendarKey::morning: return "morning " + site.people[index].id;
    case CalendarKey::quiet_hours: return "quiet " + site.people[index].id;
    case CalendarKey::window: return "window " + site.windows[index].id;
    case CalendarKey::chore_due: {
      const Chore& c = site.chores[index];
      return "chore " + std::to_string(static_cast<int>(c.kind)) + " " + std::string(place_id(site, c.place));
    }
    case CalendarKey::purge_due: return "purge " + site.systems[index].id;
    case CalendarKey::all_well: return "all well";
  }
  return {};
}

void CalendarBook::take(const Site& site, const CalendarTurned& t, EngineTime at) {
  const std::string name = calendar_name(site, t.key, t.index);
  if (name.empty()) return;
  Mark& mark = marks_[name];
  if (mark.lasts != t.begins) mark.since = at;
  mark.lasts = t.begins;
  if (!t.begins || std::ranges::find(mark.days, t.local_day) != mark.days.end()) return;
  mark.days.push_back(t.local_day);
  if (mark.days.size() > kDays) mark.days.pop_front();
}

const CalendarBook::Mark* CalendarBook::find(const Site& site, CalendarKey key, std::uint16_t index) const {
  const auto it = marks_.find(calendar_name(site, key, index));
  return it == marks_.end() ? nullptr : &it->second;
}

bool CalendarBook::lasts(const Site& site, CalendarKey key, std::uint16_t index) const {
  const Mark* mark = find(site, key, index);
  return mark && mark->lasts;
}

std::optional<EngineTime> CalendarBook::since(const Site& site, CalendarKey key, std::uint16_t index) const {
  const Mark* mark = find(site, key, index);
  return mark && mark->lasts ? std::optional(mark->since) : std::nullopt;
}

bool CalendarBook::told(const Site& site, CalendarKey key, std::uint16_t index, std::int32_t local_day) const {
  const Mark* mark = find(site, key, index);
  return mark && std::ranges::find(mark->days, local_day) != mark->days.end();
}

void CalendarBook::forget(CalendarKey key, const Site& site) {
  for (std::size_t i = 0; i < many(site, key); ++i)
    marks_.erase(calendar_name(site, key, static_cast<std::uint16_t>(i)));
}

void CalendarBook::fit(const Site& site) {
  std::set<std::string> known;
  for (const CalendarKey key : kKeys)
    for (std::size_t i = 0; i < many(site, key); ++i) known.insert(calendar_name(site, key, static_cast<std::uint16_t>(i)));
  std::erase_if(marks_, [&](const auto& mark) { return !known.contains(mark.first); });
}

}  // namespace riserkeep
