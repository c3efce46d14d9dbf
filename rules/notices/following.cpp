// What happens to a topic after it was told: reminders, escalation, calm, back to normal.
#include <algorithm>

#include "rules/notices/audience.h"
#include "rules/notices/cause.h"
#include "rules/notices/message.h"
#include "rules/notices/notices.h"

namespace riserkeep {
namespace {

std::optional<Duration> interval(const MessageParams& m, Priority p) {
  switch (p) {
    case Priority::critical: return m.remind_critical;
    case Priority::high: return m.remind_high;
    case Priority::medium: return m.remind_medium;
    case Priority::low: return std::nullopt;
  }
  return std::nullopt;
}

// Something of it was seen by a reading lately: what nobody measures is not repeated.
bool proven(const SiteView& view, const Topic& t) {
  return std::ranges::any_of(t.members, [&](const Member& m) { return m.standing() && !unproven(view, m.alarm, m.place); });
}

bool all_rest(const SiteView& view, const Topic& t) {
  return std::ranges::all_of(t.members, [&](const Member& m) { return rests(view, m.alarm, m.place); });
}

Told* told_to(Topic& t, PersonId p) {
  const auto found = std::ranges::find(t.told, p, &Told::person);
  return found == t.told.end() ? nullptr : &*found;
}

bool waits_for_morning(const Site& site, PersonId p, const Topic& t) { return site.people[p.index].at && !urgent(t); }

}  // namespace

void Notices::say(const SiteView& view, TopicId id, Topic& t, NoticeKind kind, std::vector<PersonId> to, Effects& out) {
  if (to.empty()) return;
  for (const PersonId p : to) {
    if (Told* known = told_to(t, p)) known->at = view.now;
    else t.told.push_back({p, view.now});
  }
  people_.send(view.site, view.now, draft_of(view, id, t, kind), to, out);
}

void Notices::follow(const SiteView& view, TopicId id, Topic& t, Effects& out) {
  if (all_rest(view, t)) return;
  if (t.again) {
    t.again.reset();
    t.escalated = {};
    std::vector<PersonId> to = told_at_once(view.site, t);
    for (const Told& known : t.told)
      if (std::ranges::find(to, known.person) == to.end()) to.push_back(known.person);
    return say(view, id, t, t.unstable ? NoticeKind::unstable : NoticeKind::alarm, std::move(to), out);
  }
  calm_down(view, id, t, out);
  if (!t.unacknowledged()) return;
  escalate(view, id, t, out);
  if (!t.unstable || t.priority() == Priority::critical) remind(view, id, t, out);
}

bool Notices::close(const SiteView& view, TopicId id, Topic& t, Effects& out) {
  if (!t.over || t.unstable || t.again || all_rest(view, t)) return false;
  if (view.now - *t.over < settle_time(view.site.messages)) return false;
  const std::vector<PersonId> waiting = people_.amend(id, over_words(t));
  std::vector<PersonId> to;
  for (const Told& known : t.told)
    if (std::ranges::find(waiting, known.person) == waiting.end()) to.push_back(known.person);
  if (!to.empty()) people_.send(view.site, view.now, draft_of(view, id, t, NoticeKind::back_to_normal), to, out);
  return true;
}

// One that came and went and has kept still since: told once, either way.
void Notices::calm_down(const SiteView& view, TopicId id, Topic& t, Effects& out) {
  if (!t.unstable) return;
  Duration calm{};
  EngineTime last = t.opened;
  for (const Member& m : t.members) {
    const Flap& flap = points_[m.key()].flap;
    calm = std::max(calm, flap.calm_after(view.site.messages));
    last = std::max(last, flap.last_change());
  }
  if (view.now - last < calm) return;
  std::vector<PersonId> to;
  for (const Told& known : t.told) to.push_back(known.person);
  if (!t.over) {
    if (!proven(view, t)) return;
    t.unstable = false;
    return say(view, id, t, NoticeKind::alarm, std::move(to), out);
  }
  people_.send(view.site, view.now, draft_of(view, id, t, NoticeKind::back_to_normal), to, out);
  t.told.clear();
  t.unstable = false;                                // and over: closed by the next tick, nobody left to tell
}

void Notices::remind(const SiteView& view, TopicId id, Topic& t, Effects& out) {
  const auto every = interval(view.site.messages, t.priority());
  if (!every) return;
  if (!proven(view, t)) {
    for (Told& known : t.told) known.at += seconds(1);
    return;
  }
  std::vector<PersonId> to;
  for (const Told& known : t.told)
    if (view.now - known.at >= *every && !waits_for_morning(view.site, known.person, t) && !people_.waits(known.person, id))
      to.push_back(known.person);
  say(view, id, t, NoticeKind::reminder, std::move(to), out);
}

void Notices::escalate(const SiteView& view, TopicId id, Topic& t, Effects& out) {
  const Duration elapsed = view.now - t.opened;
  std::vector<PersonId> to = told_later(view.site, t, t.escalated, elapsed);
  t.escalated = elapsed;
  std::erase_if(to, [&](PersonId p) { return told_to(t, p) != nullptr; });
  say(view, id, t, NoticeKind::escalation, std::move(to), out);
}

// What waits for this person's mornings is reminded of there: once a morning, not by the hour.
void Notices::remind_in_the_morning(const SiteView& view, PersonId person, Effects& out) {
  if (person.index >= view.site.people.size()) return;
  for (auto& [id, t] : topics_) {
    const Told* known = told_to(t, person);
    const auto every = interval(view.site.messages, t.priority());
    if (!known || !every || !waits_for_morning(view.site, person, t) || people_.waits(person, id)) continue;
    if (t.unstable || !t.unacknowledged() || !proven(view, t) || all_rest(view, t) || view.now - known->at < *every / 2) continue;
    say(view, id, t, NoticeKind::reminder, {person}, out);
  }
}

}  // namespace riserkeep
