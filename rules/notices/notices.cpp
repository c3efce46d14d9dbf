#include "rules/notices/notices.h"

#include <algorithm>

#include "rules/notices/audience.h"
#include "rules/notices/cause.h"
#include "rules/notices/message.h"

namespace riserkeep {
namespace {

constexpr Duration kStartedAgain = minutes(10);      // one start note in this time

Member member_from(const AlarmChanged& a) {
  Member m;
  m.id = a.id;
  m.alarm = a.alarm;
  m.place = a.place;
  m.priority = a.priority;
  m.since = a.since;
  m.value = a.value;
  m.limit = a.limit;
  m.unit = a.unit;
  m.cause = a.cause;
  return m;
}

bool stands(AlarmState s) { return s != AlarmState::normal && s != AlarmState::returned_unacknowledged; }

}  // namespace

void Notices::heard(const Site& site, const AlarmChanged& a, EngineTime at) {
  switch (a.change) {
    case AlarmChange::raised: return raised(site, a, at);
    case AlarmChange::priority_changed: case AlarmChange::realarmed: return got_worse(a, at);
    case AlarmChange::cleared: case AlarmChange::released:
      if (!stands(a.state)) ended(a, at);
      return;
    case AlarmChange::acknowledged: return acknowledged(a);
    case AlarmChange::shelved: case AlarmChange::unshelved: case AlarmChange::suppressed: case AlarmChange::unsuppressed:
    case AlarmChange::out_of_service: case AlarmChange::in_service: return;  // the board is asked when it matters
  }
}

void Notices::gather(Watched& p, EngineTime due) {
  p.stage = Stage::gathering;
  p.due = due;
  if (std::ranges::find(gathering_, p.member.key()) == gathering_.end()) gathering_.push_back(p.member.key());
}

void Notices::raised(const Site& site, const AlarmChanged& a, EngineTime at) {
  Watched& p = points_[{a.alarm, a.place}];
  p.flap.raised(site.messages, at);
  p.member = member_from(a);
  p.still_bad = false;
  const auto topic = topics_.find(p.topic);
  if (p.stage == Stage::told && topic != topics_.end()) return rejoin(site, p, topic->second, at);
  p.topic = 0;
  if (p.stage == Stage::gathering) return;           // over and back within the gathering time
  gather(p, at + site.messages.gather);
}

// The same story goes on: nobody was told that it was over.
void Notices::rejoin(const Site& site, Watched& p, Topic& t, EngineTime at) {
  const auto m = std::ranges::find_if(t.members, [&](const Member& x) { return x.key() == p.member.key(); });
  if (m == t.members.end()) return;
  const bool was_acknowledged = m->acknowledged, child = m->child, critical = p.member.priority == Priority::critical;
  *m = p.member;
  m->child = child;
  m->acknowledged = was_acknowledged && t.unstable && !critical;
  t.over.reset();
  ++t.raises;
  if (was_acknowledged && critical) t.again = at;
  if (t.unstable || (!p.flap.fast(site.messages, at) && t.raises < site.messages.flap_changes)) return;
  t.unstable = true;
  t.raises = p.flap.count();
  t.unstable_from = p.flap.first();
  t.again = at;
}

Member* Notices::member_of(const AlarmChanged& a) {
  const auto p = points_.find({a.alarm, a.place});
  if (p == points_.end()) return nullptr;
  const auto t = topics_.find(p->second.topic);
  if (t == topics_.end()) return nullptr;
  for (Member& m : t->second.members)
    if (m.id == a.id) return &m;
  return nullptr;
}

void Notices::got_worse(const AlarmChanged& a, EngineTime at) {
  const auto found = points_.find({a.alarm, a.place});
  if (found == points_.end() || found->second.member.id != a.id) return;
  Watched& p = found->second;
  p.member.priority = std::max(p.member.priority, a.priority);
  p.member.acknowledged = false;
  if (Member* m = member_of(a)) {
    m->priority = p.member.priority;
    m->acknowledged = false;
    topics_.at(p.topic).again = at;
  }
  std::erase(explained_, p.member.key());
  if (p.stage == Stage::quiet || p.stage == Stage::explained) gather(p, at);  // what explained it may no longer do so
}

void Notices::ended(const AlarmChanged& a, EngineTime at) {
  const auto found = points_.find({a.alarm, a.place});
  if (found == points_.end()) return;
  Watched& p = found->second;
  p.flap.cleared(at);
  p.member.ended = at;
  returned_.push_back(p.member.key());
  if (Member* m = member_of(a)) {
    m->ended = at;
    Topic& t = topics_.at(p.topic);
    if (std::ranges::none_of(t.members, &Member::standing)) t.over = at;
  }
  if (p.stage != Stage::explained && p.stage != Stage::resting) return;
  std::erase(explained_, p.member.key());
  std::erase(resting_, p.member.key());
  p.stage = Stage::quiet;
}

void Notices::acknowledged(const AlarmChanged& a) {
  const auto found = points_.find({a.alarm, a.place});
  if (found == points_.end() || found->second.member.id != a.id) return;
  found->second.member.acknowledged = true;
  Member* m = member_of(a);
  if (!m) return;
  m->acknowledged = true;
  if (!topics_.at(found->second.topic).unacknowledged() && m->standing())
    people_.amend(found->second.topic, "Acknowledged by " + a.who + ".");
}

void Notices::tick(const SiteView& view, Effects& out) {
  parents_returned(view);
  rested(view);
  tell_gathered(view, out);
  for (auto t = topics_.begin(); t != topics_.end();) {
    if (close(view, t->first, t->second, out)) {
      for (const Member& m : t->second.members)
        if (Watched& p = points_[m.key()]; p.topic == t->first) {
          p.topic = 0;
          if (p.stage == Stage::told) p.stage = Stage::quiet;
        }
      t = topics_.erase(t);
      continue;
    }
    follow(view, t->first, t->second, out);
    ++t;
  }
  tend(view, out);
  people_.tick(view.site, view.now, out);
  forget(view);
}

void Notices::turned(const SiteView& view, const CalendarTurned& c, Effects& out) {
  const PersonId person{c.index};
  switch (c.key) {
    case CalendarKey::morning:
      if (!c.begins) return;
      remind_in_the_morning(view, person, out);
      return people_.morning(view.site, person, view.now, out);
    case CalendarKey::quiet_hours: return people_.quiet_hours(view.site, person, c.begins, view.now, out);
    case CalendarKey::all_well: {
      if (!c.begins) return;
      Draft d = all_well_draft(view);
      d.urgent = true;                               // it has its own time of day
      return people_.send(view.site, view.now, d, for_everyday(view.site), out);
    }
    case CalendarKey::window: case CalendarKey::chore_due: case CalendarKey::purge_due: return;
  }
}

void Notices::resumed(const SiteView& view, std::optional<Duration> stopped, Effects& out) {
  if (!view.site.messages.start_and_stop) return;
  if (started_told_ && view.now - *started_told_ < kStartedAgain) return;
  started_told_ = view.now;
  people_.send(view.site, view.now, started_draft(view, stopped), for_everyday(view.site), out);
}

void Notices::stopping(const SiteView& view, std::string_view why, Effects& out) {
  if (view.site.messages.start_and_stop) people_.send(view.site, view.now, stopping_draft(view, why), for_everyday(view.site), out);
}

void Notices::test(const SiteView& view, PersonId person, std::string_view who, Effects& out, std::string& why_not) {
  if (person.index >= view.site.people.size()) {
    why_not = "the site file names no such person";
    return;
  }
  people_.send_now(view.site, view.now, test_draft(view, who), {person}, out);
}

void Notices::tell_overrun(const SiteView& view, SystemId system, std::string_view owner, std::string_view what, EngineTime since, Effects& out) {
  people_.send(view.site, view.now, work_draft(view, system, what, since), owner_or_concerned(view.site, owner, system), out);
}

void Notices::tell_chores(const SiteView& view, const std::vector<std::string>& overdue, EngineTime since, Effects& out) {
  if (!overdue.empty()) people_.send(view.site, view.now, chores_draft(view, overdue, since), for_everyday(view.site), out);
}

void Notices::forget(const SiteView& view) {
  if (view.now.time_since_epoch() % hours(1) != Duration{}) return;
  std::erase_if(points_, [&](const auto& p) { return p.second.stage == Stage::quiet && !p.second.topic && p.second.flap.forgotten(view.now); });
}

void Notices::keep(Archive& a) {
  a(people_, points_, topics_, gathering_, explained_, resting_, returned_, next_, started_told_, chores_told_, overrun_told_, chores_known_);
}

}  // namespace riserkeep
