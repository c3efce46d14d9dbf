#include "rules/notices/people.h"

#include <algorithm>

#include "rules/notices/bundle.h"
#include "rules/notices/cause.h"

namespace riserkeep {
namespace {

constexpr Duration kDay = hours(24), kLongestHold = days(8), kCriticalDigest = minutes(1);
constexpr std::size_t kParagraphsKept = 20;  // of what waits; beyond that the short texts are kept

enum class When : std::uint8_t { now, after_quiet, morning };

When when_for(const Person& p, const Receiver& r, const Draft& d) {
  if (d.priority == Priority::critical) return When::now;
  if (!d.urgent && p.at) return When::morning;
  return r.quiet ? When::after_quiet : When::now;
}

void put_by(std::vector<Draft>& list, const Draft& d) {
  list.push_back(d);
  if (list.size() > kParagraphsKept) list.back().long_text.clear();
}

bool may_send(const MessageParams& m, Receiver& r, Priority priority, EngineTime now) {
  while (!r.sent.empty() && now - r.sent.front() >= kDay) r.sent.pop_front();
  if (priority != Priority::critical && r.sent.size() >= static_cast<std::size_t>(std::max(1, m.daily_cap))) return false;
  const auto recent = std::ranges::count_if(r.sent, [&](EngineTime t) { return now - t < m.flood_within; });
  return recent < std::max(1, m.flood);
}

bool any_critical(const std::vector<Draft>& list) {
  return std::ranges::any_of(list, [](const Draft& d) { return d.priority == Priority::critical; });
}

}  // namespace

bool concerns(const Site& site, const Person& person, PlaceId place) {
  if (person.places.empty() || place.kind == PlaceKind::box) return true;
  return std::ranges::any_of(person.places, [&](PlaceId own) {
    if (own == place) return true;
    const auto above = upstream(site, own);
    return std::ranges::find(above, place) != above.end();
  });
}

void People::send(const Site& site, EngineTime now, const Draft& d, const std::vector<PersonId>& to, Effects& out) {
  fit(site);
  std::vector<PersonId> at_once;
  for (const PersonId p : to) {
    Receiver& r = receivers_[p.index];
    const When when = when_for(site.people[p.index], r, d);
    if (when == When::now) {
      at_once.push_back(p);
      continue;
    }
    put_by(r.held, d);
    r.held.back().until_morning = when == When::morning;
    if (!r.held_since) r.held_since = now;
  }
  send_now(site, now, d, at_once, out);
}

void People::send_now(const Site& site, EngineTime now, const Draft& d, const std::vector<PersonId>& to, Effects& out) {
  fit(site);
  std::vector<PersonId> reached;
  for (const PersonId p : to) {
    Receiver& r = receivers_[p.index];
    if (r.beyond.empty() && may_send(site.messages, r, d.priority, now)) {
      reached.push_back(p);
      continue;
    }
    put_by(r.beyond, d);
    const EngineTime due = now + (d.priority == Priority::critical ? kCriticalDigest : site.messages.flood_within);
    r.digest_due = std::min(r.digest_due.value_or(due), due);
  }
  say(site, now, d, std::move(reached), out);
}

void People::say(const Site&, EngineTime now, const Draft& d, std::vector<PersonId> to, Effects& out) {
  if (to.empty()) return;
  for (const PersonId p : to) receivers_[p.index].sent.push_back(now);
  Notice n;
  n.id = NoticeId{next_++};
  n.kind = d.kind;
  n.to = std::move(to);
  n.references = d.references;
  n.place = d.place;
  n.priority = d.priority;
  n.since = d.since;
  n.subject = d.subject;
  n.short_text = d.short_text;
  n.long_text = d.long_text;
  n.about_delivery = d.about_delivery;
  out.push_back({now, std::move(n)});
}

void People::tick(const Site& site, EngineTime now, Effects& out) {
  fit(site);
  for (std::uint16_t i = 0; i < receivers_.size(); ++i) {
    Receiver& r = receivers_[i];
    // Nothing waits for ever, even if no morning is ever told.
    if (r.held_since && now - *r.held_since >= kLongestHold) flush(site, PersonId{i}, true, now, out);
    if (!r.digest_due || now < *r.digest_due) continue;
    const bool critical = any_critical(r.beyond);
    while (!r.sent.empty() && now - r.sent.front() >= kDay) r.sent.pop_front();
    if (!critical && r.sent.size() >= static_cast<std::size_t>(std::max(1, site.messages.daily_cap))) continue;
    const std::vector<Draft> all = std::exchange(r.beyond, {});
    r.digest_due.reset();
    say(site, now, bundled(site, all, Bundle::flood), {PersonId{i}}, out);
  }
}

void People::morning(const Site& site, PersonId p, EngineTime now, Effects& out) {
  fit(site);
  if (p.index >= receivers_.size()) return;
  Receiver& r = receivers_[p.index];
  if (!r.quiet) return flush(site, p, true, now, out);
  for (Draft& d : r.held) d.until_morning = false;
}

void People::quiet_hours(const Site& site, PersonId p, bool begin, EngineTime now, Effects& out) {
  fit(site);
  if (p.index >= receivers_.size()) return;
  receivers_[p.index].quiet = begin;
  if (!begin) flush(site, p, false, now, out);
}

void People::flush(const Site& site, PersonId p, bool morning, EngineTime now, Effects& out) {
  Receiver& r = receivers_[p.index];
  std::vector<Draft> due, later;
  for (Draft& d : r.held) (morning || !d.until_morning ? due : later).push_back(std::move(d));
  r.held = std::move(later);
  r.held_since = r.held.empty() ? std::nullopt : std::optional{now};
  if (due.empty()) return;
  send_now(site, now, due.size() == 1 ? due.front() : bundled(site, due, Bundle::held), {p}, out);
}

std::vector<PersonId> People::amend(TopicId topic, const std::string& words) {
  std::vector<PersonId> waiting;
  for (std::uint16_t i = 0; i < receivers_.size(); ++i)
    for (auto* list : {&receivers_[i].held, &receivers_[i].beyond})
      for (Draft& d : *list) {
        if (d.topic != topic) continue;
        add_words(d, words);
        if (waiting.empty() || waiting.back() != PersonId{i}) waiting.push_back(PersonId{i});
      }
  return waiting;
}

bool People::waits(PersonId p, TopicId topic) const {
  if (p.index >= receivers_.size()) return false;
  const auto about = [&](const Draft& d) { return d.topic == topic; };
  return std::ranges::any_of(receivers_[p.index].held, about) || std::ranges::any_of(receivers_[p.index].beyond, about);
}

std::optional<PersonId> People::same_person(const Site& site, PersonId before) const {
  if (before.index >= receivers_.size()) return std::nullopt;
  const auto found = std::ranges::find(site.people, receivers_[before.index].person, &Person::id);
  if (found == site.people.end()) return std::nullopt;
  return PersonId{static_cast<std::uint16_t>(found - site.people.begin())};
}

// The same people in the same order, or matched by their ids after the site file has changed.
void People::fit(const Site& site) {
  const auto same = [](const Receiver& r, const Person& p) { return r.person == p.id; };
  if (std::ranges::equal(receivers_, site.people, same)) return;
  std::vector<Receiver> fresh(site.people.size());
  for (std::size_t i = 0; i < fresh.size(); ++i) {
    const auto known = std::ranges::find(receivers_, site.people[i].id, &Receiver::person);
    if (known != receivers_.end()) fresh[i] = std::move(*known);
    fresh[i].person = site.people[i].id;
  }
  receivers_ = std::move(fresh);
}

}  // namespace riserkeep
