// Which way a message takes, and how the ways are.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/alerts/outbox.h"

namespace riserkeep {
namespace {

std::string server_of(const Reach& r) { return r.by == ReachBy::hook ? r.address : "mail"; }

}  // namespace

void Outbox::failed(Health& h, const std::string& words, EngineTime now) {
  ++h.failures;
  h.error = words;
  if (!h.since) h.since = now;
  Duration pause = limits_.first_pause;
  for (int i = 1; i < h.failures && pause < limits_.longest_pause; ++i) pause *= 2;
  h.next = now + std::min(pause, limits_.longest_pause);
}

void Outbox::succeeded(Health& h, EngineTime now, bool delivered) {
  h.failures = 0;
  h.error.clear();
  h.since.reset();
  h.next = now;
  if (delivered) h.delivered = now;
}

int Outbox::running(const Delivery& d, const Person& p, std::size_t way) const {
  const Reach& r = p.who.reach[way];
  const Health* behind = find_health(server_of(r));
  const Health* there = find_health(r.address);
  return std::max({d.tries[way].failures, behind ? behind->failures : 0, there ? there->failures : 0});
}

bool Outbox::usable(const Person& p, const Delivery& d, std::size_t way) const {
  if (d.tries[way].refused) return false;
  return !d.message.about_delivery || running(d, p, way) == 0;
}

bool Outbox::ready(const Reach& r, EngineTime now) const {
  const Health* behind = find_health(server_of(r));
  const Health* there = find_health(r.address);
  return (!behind || now >= behind->next) && (!there || now >= there->next);
}

// Below the limit; or failing, but not looked at for long: one message in a while finds out whether it is back.
bool Outbox::preferred(const Person& p, const Delivery& d, std::size_t way, EngineTime now) const {
  if (running(d, p, way) < limits_.next_way_after) return true;
  const Reach& r = p.who.reach[way];
  const Health* there = find_health(r.address);
  return d.tries[way].failures == 0 && ready(r, now) && there && now - there->tried >= limits_.longest_pause;
}

std::optional<std::size_t> Outbox::choose(const Person& p, const Delivery& d, EngineTime now) const {
  const std::size_t n = p.who.reach.size();
  if (d.message.kind == NoticeKind::test) return 0;
  for (std::size_t w = 0; w < n; ++w)
    if (usable(p, d, w) && preferred(p, d, w, now)) return ready(p.who.reach[w], now) ? std::optional{w} : std::nullopt;
  // All of them fail: whichever is due, the least tried first.
  std::optional<std::size_t> best;
  for (std::size_t w = 0; w < n; ++w)
    if (usable(p, d, w) && ready(p.who.reach[w], now) && (!best || d.tries[w].failures < d.tries[*best].failures)) best = w;
  return best;
}

Outbox::Summary Outbox::summary() const {
  Summary s;
  s.given_up = given_up_;
  s.delivered = delivered_;
  std::map<std::string, WaySummary> ways;
  const auto note = [&](const std::string& key, const std::string& name) -> WaySummary& {
    WaySummary& w = ways[name];
    w.way = name;
    if (const Health* h = find_health(key); h && (w.error.empty() || h->failures > w.failures)) {
      w.failures = h->failures;
      w.error = h->error;
      w.failing_since = h->since;
      w.delivered = h->delivered;
    }
    return w;
  };
  for (const auto& p : people_) {
    for (const auto& r : p.who.reach) {
      note(server_of(r), server_of(r));
      if (const Health* h = find_health(r.address); h && h->failures > 0) note(r.address, r.address);
    }
    for (const auto& d : p.queue) {
      ++s.waiting;
      s.oldest = s.oldest ? std::min(*s.oldest, d.message.decided) : d.message.decided;
      std::size_t way = 0;
      while (way + 1 < d.tries.size() && (d.tries[way].refused || running(d, p, way) >= limits_.next_way_after)) ++way;
      const std::string name = server_of(p.who.reach[way]);
      ++note(name, name).waiting;
    }
  }
  for (auto& [name, way] : ways) s.ways.push_back(std::move(way));
  return s;
}

std::optional<std::string> Outbox::trouble(EngineTime now) const {
  std::size_t overdue = 0;
  std::string error;
  for (const auto& p : people_)
    for (const auto& d : p.queue) {
      if (d.message.about_delivery || d.message.kind == NoticeKind::test || now - d.message.decided < limits_.overdue) continue;
      ++overdue;
      if (error.empty() && !d.error.empty()) error = p.who.reach[d.way].by == ReachBy::hook ? "post: " + d.error : "mail: " + d.error;
    }
  if (overdue > 0)
    return fmt::format("{} message{} not delivered within {} min{}{}", overdue, overdue == 1 ? "" : "s",
                       std::chrono::duration_cast<minutes>(limits_.overdue).count(), error.empty() ? "" : ": ", error);
  for (const auto& p : people_)
    if (!p.lost.empty()) return fmt::format("{} could not be told: {}", p.who.id, p.lost);
  return std::nullopt;
}

}  // namespace riserkeep
