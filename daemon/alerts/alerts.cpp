#include "daemon/alerts/alerts.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <utility>

#include "daemon/alerts/hook.h"

namespace riserkeep {
namespace {

constexpr Duration kPatience = seconds(2);          // with the journal, before something leaves unmarked
constexpr Duration kLinkLife = hours(48);
constexpr std::uint64_t kPing = 0;                  // ticket; the outbox' begin at 1

}  // namespace

std::vector<Recipient> recipients(const Description& what) {
  std::vector<Recipient> out;
  for (const auto& person : what.site.people) {
    Recipient r{person.id, {}};
    for (const auto& reach : person.reach) {
      const bool set_up = reach.by == ReachBy::hook ? !what.delivery.hook_secret_file.empty() : what.delivery.mail.has_value();
      if (set_up) r.reach.push_back(reach);
    }
    out.push_back(std::move(r));
  }
  return out;
}

Alerts::Alerts(const Description& what, std::string link_key, Ports ports)
    : what_(what), site_{what.site.id, what.site.name, what.site.time_zone}, ports_(std::move(ports)),
      outbox_(OutboxLimits{.give_up = what.delivery.give_up, .next_way_after = what.delivery.next_way_after}, recipients(what)),
      links_(std::move(link_key)), heartbeat_(what.delivery.heartbeat_every),
      courier_([this, alive = std::weak_ptr(alive_), to_loop = ports_.to_loop](std::uint64_t ticket, Outcome o) {
        to_loop([this, alive, ticket, o = std::move(o)] {
          if (!alive.expired()) answered(ticket, o);
        });
      }) {}

Alerts::~Alerts() = default;

void Alerts::restore(OutboxFound found, bool engine_says_well, EngineTime now) {
  now_ = now;
  well_ = engine_says_well;
  links_.restore(std::move(found.spent));
  std::size_t taken = 0;
  for (const auto& row : found.waiting) {
    auto message = message_of(row);
    if (message && outbox_.resume(std::move(*message), row)) ++taken;
    else {
      spdlog::warn("a message to {} is dropped: the site file knows no way to them any more", row.person);
      ports_.mark({row.notice, row.person, row.started, row.failures, row.error, {}, OutboxEnd::dropped, now});
    }
  }
  outbox_.take_marks();
  for (const auto& person : found.lost) outbox_.resume_lost(person);
  if (taken > 0) spdlog::info("{} messages of the last run are still to be delivered", taken);
}

void Alerts::start() {
  for (const auto& r : recipients(what_))
    if (r.reach.empty())
      spdlog::warn("{} cannot be told anything: no way to them is set up (the site file's mail: or hook:)", r.id);
  courier_.start();
}

std::vector<OutboxRow> Alerts::decided(std::uint64_t seq, EngineTime at, std::optional<WallTime> wall, const Notice& n) {
  std::vector<OutboxRow> rows;
  Decided d{seq, {}};
  for (const PersonId to : n.to) {
    if (to.index >= what_.site.people.size()) continue;
    Message m;
    m.notice = static_cast<std::uint64_t>(n.id);
    m.person = what_.site.people[to.index].id;
    m.decided = at;
    m.wall = wall;
    m.kind = n.kind;
    m.priority = n.priority;
    m.about_delivery = n.about_delivery;
    m.place = place_id(what_.site, n.place);
    m.place_name = n.place.kind == PlaceKind::box ? std::string{} : std::string{place_name(what_.site, n.place)};
    m.subject = n.subject;
    m.short_text = n.short_text;
    m.long_text = n.long_text;
    m.references = n.references;
    // The row of a person without a way would wait for ever; a test's would outlive its question.
    if (m.kind != NoticeKind::test && outbox_.reaches(m.person)) rows.push_back(row_of(m));
    d.messages.push_back(std::move(m));
  }
  decided_.push_back(std::move(d));
  return rows;
}

void Alerts::published(std::uint64_t seq, bool stored, EngineTime now) {
  const auto it = std::ranges::find(decided_, seq, &Decided::seq);
  if (it == decided_.end()) return;
  auto messages = std::move(it->messages);
  decided_.erase(it);
  for (auto& m : messages) {
    const std::string person = m.person, subject = m.subject;
    const bool test = m.kind == NoticeKind::test;
    if (outbox_.add(std::move(m), now, stored)) continue;
    spdlog::warn("{} is not told \"{}\": no way to them is set up", person, subject);
    if (test) end_test({person, {}, false, "no way to them is set up: look at mail: and hook: in the site file"});
  }
  due(now, wall_);
}

void Alerts::due(EngineTime now, std::optional<WallTime> wall) {
  now_ = now;
  wall_ = wall;
  if (!stopping_) {
    for (auto& attempt : outbox_.due(now)) {
      const std::uint64_t ticket = attempt.ticket;
      under_way_[ticket] = {attempt.message->person, attempt.reach.address, attempt.message->kind == NoticeKind::test};
      waiting_.emplace(ticket, Waiting{std::move(attempt), now});
      flush_marks();
      ports_.barrier([this, ticket, alive = std::weak_ptr(alive_)](bool durable) {
        if (alive.expired() || !durable) return;
        if (const auto it = waiting_.find(ticket); it != waiting_.end()) {
          send(it->second.attempt, wall_);
          waiting_.erase(it);
        }
      });
    }
    hand_over(now, wall);
  }
  flush_marks();
  look_at_health(now);
  for (std::size_t i = 0; i < watched_.size();) {
    if (now < watched_[i].until) { ++i; continue; }
    const std::string person = watched_[i].person;
    end_test({person, {}, false, "no answer yet: another message to them or to their server is still under way"});
  }
}

// The disk does not answer: better a message that may be repeated than none.
void Alerts::hand_over(EngineTime now, std::optional<WallTime> wall) {
  for (auto it = waiting_.begin(); it != waiting_.end();) {
    if (now - it->second.since < kPatience) { ++it; continue; }
    send(it->second.attempt, wall);
    it = waiting_.erase(it);
  }
}

void Alerts::send(const Outbox::Attempt& a, std::optional<WallTime> wall) {
  if (stopping_) return;                   // it stays in the outbox, marked as begun
  const Message& m = *a.message;
  const Sending sending{a.repeat, a.stored, links_for(m, wall)};
  const Delivery& d = what_.delivery;
  if (a.reach.by == ReachBy::hook)
    courier_.send(a.ticket, PostParcel{a.reach.address, d.hook_secret_file, d.hook_ca_file, hook_body(m, site_, sending), hook_key(m, site_)});
  else courier_.send(a.ticket, MailParcel{*d.mail, a.reach.address, mail_text(m, a.reach, d.mail->from, site_, sending)});
}

void Alerts::answered(std::uint64_t ticket, const Outcome& o) {
  if (ticket == kPing) {
    if (heartbeat_.answered(o)) {
      if (heartbeat_.trouble().empty()) spdlog::info("the heartbeat is answered again");
      else spdlog::warn("the heartbeat is not answered: {}", o.words);
    }
    return;
  }
  const auto it = under_way_.find(ticket);
  const UnderWay was = it == under_way_.end() ? UnderWay{} : std::move(it->second);
  if (it != under_way_.end()) under_way_.erase(it);
  const bool delivered = o.kind == Outcome::Kind::delivered;
  if (delivered) spdlog::info("{} was told by {}", was.person, was.way);
  else spdlog::warn("{} was not told by {}: {}", was.person, was.way, o.words);
  outbox_.answered(ticket, o, now_);
  if (was.test) end_test({was.person, was.way, delivered, o.words});
  due(now_, wall_);
  ports_.barrier([](bool) {});             // what the answer settled is on the disk soon: a kill repeats less
}

void Alerts::flush_marks() {
  for (auto& mark : outbox_.take_marks()) {
    if (mark.end == OutboxEnd::given_up)
      spdlog::error("message {} to {} is given up: {}", mark.notice, mark.person, mark.error);
    ports_.mark(std::move(mark));
  }
}

void Alerts::look_at_health(EngineTime now) {
  const auto trouble = outbox_.trouble(now);
  if (trouble.has_value() != well_) return;
  well_ = !trouble;
  ports_.feed(BoxHealth{BoxPart::messages, well_, trouble.value_or("everything was delivered")});
}

void Alerts::beat(EngineTime now, bool alive) {
  if (stopping_ || what_.delivery.heartbeat_url.empty() || !heartbeat_.due(now, alive)) return;
  courier_.send(kPing, PingParcel{what_.delivery.heartbeat_url, what_.delivery.heartbeat_ca_file});
}

void Alerts::watch_test(const std::string& person, EngineTime now, Duration limit, std::function<void(TestResult)> done) {
  watched_.push_back({person, now + limit, std::move(done)});
}

void Alerts::end_test(const TestResult& result) {
  for (std::size_t i = 0; i < watched_.size();) {
    if (watched_[i].person != result.person) { ++i; continue; }
    const auto done = std::move(watched_[i].done);
    watched_.erase(watched_.begin() + static_cast<std::ptrdiff_t>(i));
    done(result);
  }
}

std::vector<std::string> Alerts::links_for(const Message& m, std::optional<WallTime> now) const {
  std::vector<std::string> out;
  if (what_.delivery.reached_at.empty() || !now) return out;
  const auto open = ports_.alarms().open();
  for (const auto& reference : m.references) {
    const auto item = std::ranges::find_if(open, [&](const AlarmBoard::Item& i) { return reference_of(i.life->id()) == reference; });
    if (item == open.end()) { out.emplace_back(); continue; }
    const AckClaim claim{reference, static_cast<std::uint64_t>(item->life->id()), m.person, WallTime{now->ms + kLinkLife.count()}};
    out.push_back(what_.delivery.reached_at + "/ack/" + links_.make(claim));
  }
  return out;
}

void Alerts::stop() {
  stopping_ = true;
  courier_.stop(std::chrono::milliseconds(0));
}

}  // namespace riserkeep
