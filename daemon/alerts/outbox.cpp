#include "daemon/alerts/outbox.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <utility>

namespace riserkeep {
namespace {

std::string server_of(const Reach& r) { return r.by == ReachBy::hook ? r.address : "mail"; }

bool urgent_first(const Message& a, const Message& b) {
  if (a.priority != b.priority) return a.priority > b.priority;
  return a.decided != b.decided ? a.decided < b.decided : a.notice < b.notice;
}

}  // namespace

Outbox::Outbox(OutboxLimits limits, std::vector<Recipient> people) : limits_(limits) {
  for (auto& who : people) {
    for (const auto& reach : who.reach) {
      server(reach);
      address(reach);
    }
    people_.push_back({std::move(who), {}, {}});
  }
}

Outbox::Person* Outbox::person(const std::string& id) {
  const auto it = std::ranges::find(people_, id, [](const Person& p) { return p.who.id; });
  return it == people_.end() ? nullptr : &*it;
}
const Outbox::Person* Outbox::person(const std::string& id) const { return const_cast<Outbox*>(this)->person(id); }

bool Outbox::add(Message m, EngineTime now, bool stored) {
  Person* p = person(m.person);
  if (!p || p->who.reach.empty()) return false;
  // News is a reason to try again soon, not only when the pause is over.
  for (const auto& reach : p->who.reach)
    for (Health* h : {&server(reach), &address(reach)})
      if (h->next > now) h->next = std::min(h->next, std::max(h->tried + limits_.first_pause, now));
  const bool test = m.kind == NoticeKind::test;
  Delivery d{std::move(m), std::vector<Try>(p->who.reach.size()), stored, false, 0, 0, 0, {}};
  // A test asks how things stand now: it does not wait behind what is held up.
  const auto front = !p->queue.empty() && p->queue.front().ticket != 0 ? std::next(p->queue.begin()) : p->queue.begin();
  p->queue.insert(test ? front : p->queue.end(), std::move(d));
  return true;
}

bool Outbox::resume(Message m, const OutboxRow& row) {
  Person* p = person(m.person);
  if (!p || p->who.reach.empty() || m.kind == NoticeKind::test) {
    marks_.push_back({row.notice, row.person, row.started, row.failures, row.error, {}, OutboxEnd::dropped, row.decided});
    return false;
  }
  p->queue.push_back({std::move(m), std::vector<Try>(p->who.reach.size()), true, row.started, 0, 0, row.failures, row.error});
  return true;
}

void Outbox::resume_lost(const std::string& id) {
  if (Person* p = person(id)) p->lost = "the last message was given up";
}

std::vector<Outbox::Attempt> Outbox::due(EngineTime now) {
  std::vector<Person*> order;
  for (auto& p : people_) {
    expire(p, now);
    if (!p.queue.empty() && p.queue.front().ticket == 0) order.push_back(&p);
  }
  std::ranges::sort(order, [](const Person* a, const Person* b) {
    return urgent_first(a->queue.front().message, b->queue.front().message);
  });
  std::vector<Attempt> out;
  for (Person* p : order) {
    Delivery& head = p->queue.front();
    const auto way = choose(*p, head, now);
    if (way && !server(p->who.reach[*way]).busy) begin(*p, head, *way, now, out);
  }
  return out;
}

// What nothing can be done for any more leaves the queue.
void Outbox::expire(Person& p, EngineTime now) {
  for (auto it = p.queue.begin(); it != p.queue.end();) {
    const auto at = it++;
    if (at->ticket != 0) continue;
    const auto n = p.who.reach.size();
    bool any = false, all_refused = true;
    for (std::size_t w = 0; w < n; ++w) {
      any = any || usable(p, *at, w);
      all_refused = all_refused && at->tries[w].refused;
    }
    const bool too_old = now - at->message.decided >= limits_.give_up;
    if (at->message.about_delivery && (!any || too_old)) settle(p, at, OutboxEnd::dropped, now);
    else if (too_old || all_refused) settle(p, at, OutboxEnd::given_up, now);
  }
}

void Outbox::begin(Person& p, Delivery& d, std::size_t way, EngineTime now, std::vector<Attempt>& out) {
  d.ticket = next_ticket_++;
  d.way = way;
  const Reach& reach = p.who.reach[way];
  server(reach).busy = true;
  server(reach).tried = address(reach).tried = now;
  out.push_back({d.ticket, &d.message, reach, d.repeat, d.stored});
  const bool repeat = std::exchange(d.repeat, true);   // what the disk says while it is under way
  mark(d, reach.address, now);
  d.repeat = repeat;
}

void Outbox::answered(std::uint64_t ticket, const Outcome& o, EngineTime now) {
  const Found found = find(ticket);
  if (!found.person) return;
  Delivery& d = *found.at;
  const Reach& reach = found.person->who.reach[d.way];
  Health& behind = server(reach);
  Health& there = address(reach);
  behind.busy = false;
  d.ticket = 0;
  d.repeat = d.repeat || o.may_have_arrived;
  if (o.kind == Outcome::Kind::delivered) {
    succeeded(behind, now);
    succeeded(there, now);
    found.person->lost.clear();
    d.error.clear();
    settle(*found.person, found.at, OutboxEnd::delivered, now);
    return;
  }
  ++d.failures;
  d.error = o.words;
  Try& t = d.tries[d.way];
  ++t.failures;
  t.refused = o.kind == Outcome::Kind::refused;
  if (o.kind == Outcome::Kind::unreachable) failed(behind, o.words, now);
  else {
    // The server answers: only this address is at fault.
    if (&behind != &there) succeeded(behind, now, false);
    failed(there, o.words, now);
  }
  if (d.message.kind == NoticeKind::test) settle(*found.person, found.at, OutboxEnd::dropped, now);
  else mark(d, reach.address, now);
}

void Outbox::settle(Person& p, Queue::iterator at, OutboxEnd end, EngineTime now) {
  if (end == OutboxEnd::given_up) {
    ++given_up_;
    p.lost = at->error.empty() ? "no way was left" : at->error;
  } else if (end == OutboxEnd::delivered) ++delivered_;
  mark(*at, p.who.reach.empty() ? std::string{} : p.who.reach[at->way].address, now, end);
  p.queue.erase(at);
}

void Outbox::mark(const Delivery& d, const std::string& way, EngineTime now, std::optional<OutboxEnd> end) {
  marks_.push_back({d.message.notice, d.message.person, d.repeat, d.failures, d.error, way, end, now});
}

Outbox::Found Outbox::find(std::uint64_t ticket) {
  for (auto& p : people_)
    for (auto it = p.queue.begin(); it != p.queue.end(); ++it)
      if (ticket != 0 && it->ticket == ticket) return {&p, it};
  return {nullptr, {}};
}

std::vector<OutboxMark> Outbox::take_marks() { return std::exchange(marks_, {}); }

bool Outbox::idle() const {
  return std::ranges::all_of(people_, [](const Person& p) { return p.queue.empty(); });
}

bool Outbox::reaches(const std::string& id) const {
  const Person* p = person(id);
  return p && !p->who.reach.empty();
}

Outbox::Health& Outbox::server(const Reach& r) { return health_[server_of(r)]; }
Outbox::Health& Outbox::address(const Reach& r) { return health_[r.address]; }
const Outbox::Health* Outbox::find_health(const std::string& key) const {
  const auto it = health_.find(key);
  return it == health_.end() ? nullptr : &it->second;
}

}  // namespace riserkeep
