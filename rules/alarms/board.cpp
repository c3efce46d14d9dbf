#include "rules/alarms/board.h"

#include <algorithm>
#include <tuple>

#include "rules/text.h"

namespace riserkeep {
namespace {

std::size_t cell(ClassId c, PlaceId p) { return p.index * kClassCount + static_cast<std::size_t>(c); }

// What `p` depends on: its supply, its room and the links its channels come by. Not itself.
std::vector<PlaceId> depends_on(const Site& site, PlaceId p) {
  std::vector<PlaceId> out;
  if (p.kind == PlaceKind::system) {
    out.emplace_back(site.systems[p.index].supply);
    out.emplace_back(site.systems[p.index].room);
  }
  if (p.kind == PlaceKind::supply) out.emplace_back(site.supplies[p.index].room);
  for (const Channel& c : site.channels)
    if (c.place == p && c.link && std::ranges::find(out, PlaceId{*c.link}) == out.end()) out.emplace_back(*c.link);
  return out;
}

Occurrence occurrence(ClassId alarm, PlaceId place, const AlarmLifecycle& life, std::string_view reference) {
  return {alarm, place, life.priority(), life.since(), life.value(), life.limit(), life.unit(), life.cause(), reference};
}

}  // namespace

std::size_t AlarmBoard::slot(ClassId c, PlaceId p) const {
  const auto& row = table_[static_cast<std::size_t>(p.kind)];
  const std::size_t at = cell(c, p);
  return at < row.size() && row[at] != 0 ? row[at] - 1u : kNone;
}

const AlarmLifecycle* AlarmBoard::find(ClassId c, PlaceId p) const {
  const std::size_t at = slot(c, p);
  return at == kNone ? nullptr : &entries_[at].life;
}

AlarmLifecycle& AlarmBoard::made(ClassId c, PlaceId p) {
  if (const std::size_t at = slot(c, p); at != kNone) return entries_[at].life;
  auto& row = table_[static_cast<std::size_t>(p.kind)];
  if (row.size() <= cell(c, p)) row.resize((p.index + 1u) * kClassCount);
  entries_.push_back({c, p, {}, {}});
  row[cell(c, p)] = static_cast<std::uint16_t>(entries_.size());
  return entries_.back().life;
}

void AlarmBoard::index() {
  for (auto& row : table_) row.clear();
  for (std::size_t i = 0; i < entries_.size(); ++i) {
    const Entry& e = entries_[i];
    auto& row = table_[static_cast<std::size_t>(e.place.kind)];
    if (row.size() <= cell(e.alarm, e.place)) row.resize((e.place.index + 1u) * kClassCount);
    row[cell(e.alarm, e.place)] = static_cast<std::uint16_t>(i + 1);
  }
}

AlarmChanged AlarmBoard::told(const Site& site, const Entry& e, AlarmChange change, EngineTime at) const {
  const AlarmLifecycle& life = e.life;
  AlarmChanged m;
  m.id = life.id();
  m.reference = reference_of(life.id());
  m.alarm = e.alarm;
  m.place = e.place;
  m.change = change;
  m.state = life.state();
  m.priority = life.priority();
  m.category = class_of(e.alarm).category;
  m.since = life.since();
  m.value = life.value();
  m.limit = life.limit();
  m.unit = life.unit();
  m.cause = life.cause();
  const Occurrence o = occurrence(e.alarm, e.place, life, m.reference);
  m.text = change == AlarmChange::cleared || change == AlarmChange::released ? cleared_text(site, o, at) : alarm_text(site, o, at);
  m.first_action = first_action(site, e.alarm, e.place);
  return m;
}

void AlarmBoard::say(const Site& site, const Entry& e, AlarmChange change, EngineTime at, std::string_view who, Effects& out) const {
  AlarmChanged m = told(site, e, change, at);
  m.who = who;
  out.push_back({at, std::move(m)});
}

void AlarmBoard::judge(const Site& site, ClassId c, PlaceId p, const Verdict& verdict, EngineTime at, Duration observed, Effects& out) {
  std::size_t found = slot(c, p);
  if (found == kNone) {
    if (!std::holds_alternative<Raise>(verdict)) return;  // nothing stands that this could change
    made(c, p);
    found = slot(c, p);
  }
  Entry& e = entries_[found];
  const auto change = e.life.step(class_of(c), verdict, at, observed, next_);
  if (!change) return;
  changed_ = true;
  say(site, e, *change, at, {}, out);
  const bool worse = *change == AlarmChange::priority_changed || (*change == AlarmChange::raised && e.life.priority() > class_of(c).priority);
  if (worse) end_shelving(site, c, p, "its priority rose to " + std::string{word(e.life.priority())}, at, out);
}

bool AlarmBoard::acknowledge(const Site& site, std::string_view reference, std::string_view who, EngineTime at,
                             Effects& out, std::string& why_not) {
  const auto wanted = parse_reference(reference);
  for (Entry& e : entries_) {
    if (!wanted || !e.life.open() || reference_of(e.life.id()) != *wanted) continue;
    if (!e.life.acknowledge(who)) {
      why_not = *wanted + " is acknowledged already, by " + std::string{e.life.who()};
      return false;
    }
    changed_ = true;
    say(site, e, AlarmChange::acknowledged, at, who, out);
    return true;
  }
  why_not = "no open alarm has the reference " + gsm_only(reference) + "; `status` lists those that are open";
  return false;
}

bool AlarmBoard::release(const Site& site, SystemId system, std::string_view who, EngineTime at, Effects& out, std::string& why_not) {
  const std::string name{place_name(site, system)};
  bool standing_on = false, released = false;
  for (Entry& e : entries_) {
    if (e.place != PlaceId{system} || !class_of(e.alarm).latching) continue;
    if (e.life.condition()) standing_on = true;
    if (!e.life.release(who)) continue;
    changed_ = released = true;
    say(site, e, AlarmChange::released, at, who, out);
  }
  if (released) return true;
  why_not = standing_on ? name + ": its condition still stands; release it once the cause is gone"
                        : name + ": nothing is latched here";
  return false;
}

bool AlarmBoard::standing(ClassId c, PlaceId p) const {
  const AlarmLifecycle* life = find(c, p);
  return life && life->standing();
}

bool AlarmBoard::pending(ClassId c, PlaceId p) const {
  const AlarmLifecycle* life = find(c, p);
  return life && life->pending();
}

bool AlarmBoard::any_critical(const Site&, PlaceId p) const {
  return std::ranges::any_of(entries_, [&](const Entry& e) {
    return e.place == p && e.life.standing() && e.life.priority() == Priority::critical;
  });
}

std::vector<AlarmBoard::Item> AlarmBoard::open() const {
  std::vector<Item> out;
  for (const Entry& e : entries_)
    if (e.life.open()) out.push_back({e.alarm, e.place, &e.life});
  // Standing before over; then priority, then class (the table's order is by urgency), then the oldest.
  const auto rank = [](const Item& i) {
    return std::tuple{!i.life->standing(), -static_cast<int>(i.life->priority()), i.alarm, i.life->since(), i.place};
  };
  std::ranges::sort(out, {}, rank);
  return out;
}

std::optional<AlarmBoard::Item> AlarmBoard::explained_by(const Site& site, ClassId c, PlaceId p) const {
  return explained_among(explainers(), site, c, p);
}

std::optional<AlarmBoard::Item> AlarmBoard::explained_among(const std::vector<const Entry*>& explainers, const Site& site,
                                                            ClassId c, PlaceId p) const {
  const ClassSet by = class_of(c).suppressed_by;
  if (by.empty() || explainers.empty()) return std::nullopt;
  const std::vector<PlaceId> above = depends_on(site, p);
  const bool safety = class_of(c).category == Category::safety;  // what latched, and is over, must not hide the next one
  std::optional<Item> found;
  for (const Entry* e : explainers) {
    if (!by.has(e->alarm) || (safety && !e->life.condition())) continue;
    const bool explains = e->place == p || std::ranges::find(above, e->place) != above.end();
    if (explains && (!found || std::tuple{e->alarm, e->place} < std::tuple{found->alarm, found->place}))
      found = Item{e->alarm, e->place, &e->life};
  }
  return found;
}

void AlarmBoard::rearrange(const Renumbering& numbers) {
  std::deque<Entry> kept;
  for (Entry& e : entries_) {
    const auto now = numbers.now(e.place);
    if (!now) continue;
    e.place = *now;
    if (e.quiet && e.quiet->by) {
      const auto by = numbers.now(e.quiet->by->place);
      if (by) e.quiet->by->place = *by;
      else e.quiet.reset();
    }
    kept.push_back(std::move(e));
  }
  entries_ = std::move(kept);
  const auto now_at = [&](PlaceId p) { return numbers.now(p); };
  shelf_.moved(now_at);
  std::erase_if(work_, [&](const QuietWork& w) { return !now_at(PlaceId{w.system}); });
  for (QuietWork& w : work_) w.system = SystemId{now_at(PlaceId{w.system})->index};
  changed_ = true;
  index();
}

void AlarmBoard::keep(Archive& a) {
  std::deque<Entry> kept;
  if (!a.is_loading())
    std::ranges::copy_if(entries_, std::back_inserter(kept), [](const Entry& e) { return !e.life.idle(); });
  a(kept, next_, shelf_, work_);
  if (!a.is_loading()) return;
  changed_ = true;
  std::erase_if(kept, [](const Entry& e) {
    return static_cast<std::size_t>(e.alarm) >= kClassCount || static_cast<std::size_t>(e.place.kind) >= kKinds;
  });
  entries_ = std::move(kept);
  index();
}

}  // namespace riserkeep
