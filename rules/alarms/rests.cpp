// The board's other half: what changes who is told, never what is so.
#include <algorithm>
#include <array>
#include <tuple>

#include "rules/alarms/board.h"
#include "rules/alarms/target.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

// What work on a system is expected to raise there. Not among them: a vent that does not shut or does not obey,
// and whatever belongs to the room (its oxygen), the supply or a link: other people hang on those.
constexpr ClassSet kExpectedAtWork = ClassSet::of(
    ClassId::valve_operated, ClassId::rapid_loss, ClassId::near_trip, ClassId::pressure_low, ClassId::pressure_high,
    ClassId::vent_blocked, ClassId::leak, ClassId::leak_growing, ClassId::refill_frequent, ClassId::purity_low,
    ClassId::purity_stall, ClassId::purge_overdue, ClassId::instrument_fault);

std::array<bool, kClassCount> classes_that_explain() {
  std::array<bool, kClassCount> out{};
  for (std::size_t c = 0; c < kClassCount; ++c)
    for (std::size_t by = 0; by < kClassCount; ++by)
      if (class_of(static_cast<ClassId>(c)).suppressed_by.has(static_cast<ClassId>(by))) out[by] = true;
  return out;
}

bool same(const std::optional<Rest>& a, const std::optional<Rest>& b) {
  if (!a || !b) return a.has_value() == b.has_value();
  return a->reason == b->reason && a->by == b->by && a->who == b->who && a->why == b->why && a->until == b->until;
}

std::string duration_left(EngineTime from, EngineTime until) { return duration_text(until - from); }

std::string words_of(AlarmChange change, const Rest& rest, EngineTime at) {
  switch (change) {
    case AlarmChange::shelved: return "shelved for " + duration_left(at, *rest.until);
    case AlarmChange::unshelved: return "no longer shelved";
    case AlarmChange::out_of_service: return "out of service";
    case AlarmChange::in_service: return "in service again";
    case AlarmChange::suppressed: return "quiet";
    default: return "no longer quiet";
  }
}

std::string signed_by(const Rest& rest) {
  return (rest.who.empty() ? "" : " by " + rest.who) + (rest.why.empty() ? "" : ": " + rest.why);
}

// "Archive: air is low, shelved for 8 h by Lee: waits for parts"
std::string rest_text(const Site& site, ClassId c, PlaceId p, AlarmChange change, const Rest& rest, EngineTime at) {
  std::string out = gsm_only(std::string{place_name(site, p)} + ": " + std::string{class_of(c).what} + ", " +
                             words_of(change, rest, at) + signed_by(rest));
  while (gsm_length(out) > kShortText) {
    while ((static_cast<unsigned char>(out.back()) & 0xC0) == 0x80) out.pop_back();
    out.pop_back();
  }
  return out;
}

// The order in which entries came to be does not survive a restart; what is said must not depend on it.
template <class Entries>
auto in_order(Entries& entries) {
  std::vector<decltype(&entries.front())> out;
  for (auto& e : entries)
    if (e.life.open() || e.quiet) out.push_back(&e);
  std::ranges::sort(out, {}, [](const auto* e) { return std::tuple{e->alarm, e->place}; });
  return out;
}

bool refuse(std::string& why_not, std::string why) {
  why_not = std::move(why);
  return false;
}

std::string how_long_wrong(const Shelve& c) {
  if (c.how_long <= Duration{} && !c.until_clear) return "for how long? Say a time, 24 h at most without a reason, or until it clears";
  if (c.how_long > Shelf::kLongest) return "longer than 30 d is no shelving: take the alarm out of service, with a reason";
  if (c.how_long > Shelf::kLongestPlain && c.why.empty()) return "longer than 24 h needs a reason";
  return {};
}

template <class List>
std::string listed(const Site& site, const List& list) {
  std::string out;
  for (const auto& r : list) out += (out.empty() ? "" : ", ") + target_text(site, r.target);
  return out.empty() ? "nothing" : out;
}

Rest rest_of(const Shelved& s) { return {RestReason::shelved, s.who, s.why, s.since, s.until, {}}; }
Rest rest_of(const OutOfServiceRecord& r) { return {RestReason::out_of_service, r.who, r.why, r.since, {}, {}}; }

}  // namespace

void AlarmBoard::say_rest(const Site& site, const AlarmTargetPoint& target, AlarmChange change, const Rest& rest,
                          EngineTime at, Effects& out) const {
  const auto say_one = [&](AlarmChanged m) {
    m.who = rest.who;
    m.why = rest.why;
    m.until = rest.until;
    m.text = rest_text(site, m.alarm, m.place, change, rest, at);
    out.push_back({at, std::move(m)});
  };
  bool said = false;
  for (const Entry* e : in_order(entries_)) {
    const bool covered = target.covers(e->alarm, e->place) && (rest.reason != RestReason::shelved || may_be_shelved(e->alarm));
    if (!covered || !e->life.open()) continue;
    say_one(told(site, *e, change, at));
    said = true;
  }
  if (!target.alarm)
    out.push_back({at, Note{target.place, "all alarms here " + words_of(change, rest, at) + signed_by(rest)}});
  else if (!said) {
    AlarmChanged m;
    m.alarm = *target.alarm;
    m.place = target.place;
    m.change = change;
    m.priority = class_of(m.alarm).priority;
    m.category = class_of(m.alarm).category;
    m.since = at;
    say_one(std::move(m));
  }
}

bool AlarmBoard::shelve(const Site& site, const Shelve& c, std::string_view who, EngineTime at, Effects& out, std::string& why_not) {
  const auto target = find_target(site, *this, c.target.text, why_not);
  if (!target) return false;
  if (target->alarm && !may_be_shelved(*target->alarm))
    return refuse(why_not, std::string{word(*target->alarm)} + " is a safety alarm and is not shelved: announce work on the system, "
                           "or take the alarm out of service, with a reason");
  if (std::string wrong = how_long_wrong(c); !wrong.empty()) return refuse(why_not, std::move(wrong));
  Shelved s{*target, std::string{who}, c.why, at, at + (c.how_long > Duration{} ? c.how_long : Shelf::kLongestPlain), c.until_clear};
  s.stood = std::ranges::any_of(entries_, [&](const Entry& e) { return s.covers(e.alarm, e.place) && e.life.standing(); });
  shelf_.shelve(s);
  say_rest(site, *target, AlarmChange::shelved, rest_of(s), at, out);
  return true;
}

bool AlarmBoard::unshelve(const Site& site, const Unshelve& c, std::string_view who, EngineTime at, Effects& out, std::string& why_not) {
  const auto target = find_target(site, *this, c.target.text, why_not);
  if (!target) return false;
  const auto ended = shelf_.unshelve(*target);
  if (ended.empty())
    return refuse(why_not, target_text(site, *target) + " is not shelved as such; shelved: " + listed(site, shelf_.shelved()));
  for (const Shelved& s : ended)
    say_rest(site, s.target, AlarmChange::unshelved, {RestReason::shelved, std::string{who}, {}, s.since, {}, {}}, at, out);
  return true;
}

bool AlarmBoard::service(const Site& site, const OutOfService& c, std::string_view who, EngineTime at, Effects& out, std::string& why_not) {
  const auto target = find_target(site, *this, c.target.text, why_not);
  if (!target) return false;
  if (c.out) {
    if (c.why.empty()) return refuse(why_not, "why? Out of service has no end of its own, so it needs a reason");
    shelf_.take_out({*target, std::string{who}, c.why, at});
    say_rest(site, *target, AlarmChange::out_of_service, {RestReason::out_of_service, std::string{who}, c.why, at, {}, {}}, at, out);
  } else {
    const auto ended = shelf_.put_back(*target);
    if (ended.empty())
      return refuse(why_not, target_text(site, *target) + " is not out of service as such; out of service: " + listed(site, shelf_.out()));
    for (const OutOfServiceRecord& r : ended)
      say_rest(site, r.target, AlarmChange::in_service, {RestReason::out_of_service, std::string{who}, c.why, r.since, {}, {}}, at, out);
  }
  changed_ = true;
  return true;
}

void AlarmBoard::end_shelving(const Site& site, ClassId c, PlaceId p, std::string why, EngineTime at, Effects& out) {
  while (const Shelved* s = shelf_.shelved(c, p)) {
    const Shelved ended = *s;
    shelf_.unshelve_one(ended.target);
    say_rest(site, ended.target, AlarmChange::unshelved, {RestReason::shelved, {}, why, ended.since, {}, {}}, at, out);
  }
}

// Elapsed time: a shelving runs on while the program is down.
void AlarmBoard::expire(const Site& site, EngineTime at, Effects& out) {
  std::vector<std::pair<AlarmTargetPoint, std::string>> over;
  for (Shelved& s : shelf_.shelved_records()) {
    const bool stands = s.until_clear && std::ranges::any_of(entries_, [&](const Entry& e) { return s.covers(e.alarm, e.place) && e.life.standing(); });
    if (at >= s.until) over.emplace_back(s.target, "its time is over");
    else if (s.until_clear && s.stood && !stands) over.emplace_back(s.target, "it cleared");
    s.stood = s.stood || stands;
  }
  for (auto& [target, why] : over) {
    const Shelved ended = shelf_.unshelve_one(target);
    say_rest(site, target, AlarmChange::unshelved, {RestReason::shelved, {}, std::move(why), ended.since, {}, {}}, at, out);
  }
}

const QuietWork* AlarmBoard::at_work(ClassId c, PlaceId p) const {
  if (!kExpectedAtWork.has(c)) return nullptr;
  const auto found = std::ranges::find_if(work_, [&](const QuietWork& w) { return p == PlaceId{w.system}; });
  return found == work_.end() ? nullptr : &*found;
}

// What is out of service is not to be trusted and what work causes is no news: neither explains anything. What is
// shelved a person knows of.
std::vector<const AlarmBoard::Entry*> AlarmBoard::explainers() const {
  static const std::array<bool, kClassCount> explains = classes_that_explain();
  std::vector<const Entry*> out;
  for (const Entry& e : entries_) {
    if (!explains[static_cast<std::size_t>(e.alarm)] || !e.life.standing()) continue;
    if (!shelf_.out(e.alarm, e.place) && !at_work(e.alarm, e.place)) out.push_back(&e);
  }
  return out;
}

std::optional<Rest> AlarmBoard::quiet_of(const std::vector<const Entry*>& explainers, const Site& site, const Entry& e, EngineTime at) const {
  if (!e.life.open()) return std::nullopt;
  if (const QuietWork* w = at_work(e.alarm, e.place)) return Rest{RestReason::work, w->who, "work: " + w->what, at, w->until, {}};
  const auto by = explained_among(explainers, site, e.alarm, e.place);
  if (!by || by->life->priority() < e.life.priority()) return std::nullopt;  // nobody would be called for this one
  const std::string what = std::string{word(by->alarm)} + "@" + std::string{place_id(site, by->place)};
  return Rest{RestReason::suppressed, {}, "explained by " + what + ", " + reference_of(by->life->id()), at, {}, AlarmPoint{by->alarm, by->place}};
}

void AlarmBoard::explain(const Site& site, EngineTime at, Effects& out) {
  const auto by = explainers();
  for (Entry* entry : in_order(entries_)) {
    Entry& e = *entry;
    std::optional<Rest> now = quiet_of(by, site, e, at);
    if (same(e.quiet, now)) continue;
    const bool was = e.quiet.has_value();
    if (was && now) now->since = e.quiet->since;
    e.quiet = std::move(now);
    if (was && e.quiet) continue;
    AlarmChanged m = told(site, e, was ? AlarmChange::unsuppressed : AlarmChange::suppressed, at);
    m.text = rest_text(site, e.alarm, e.place, m.change, e.quiet.value_or(Rest{}), at);
    if (e.quiet) {
      m.who = e.quiet->who;
      m.why = e.quiet->why;
      m.until = e.quiet->until;
    }
    out.push_back({at, std::move(m)});
  }
}

void AlarmBoard::rest(const Site& site, EngineTime at, const std::vector<QuietWork>& work, Effects& out) {
  expire(site, at, out);
  if (work != work_) {
    work_ = work;
    changed_ = true;
  }
  if (!changed_) return;
  changed_ = false;
  explain(site, at, out);
}

std::optional<Rest> AlarmBoard::rests(ClassId c, PlaceId p) const {
  if (const OutOfServiceRecord* r = shelf_.out(c, p)) return rest_of(*r);
  if (const Shelved* s = shelf_.shelved(c, p)) return rest_of(*s);
  const std::size_t at = slot(c, p);
  return at == kNone ? std::nullopt : entries_[at].quiet;
}

}  // namespace riserkeep
