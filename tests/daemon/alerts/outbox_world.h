// An outbox in simulated time, with servers that answer as the test says.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "daemon/alerts/outbox.h"

namespace riserkeep::testing {

inline EngineTime at(Duration d) { return EngineTime{d}; }

inline Outcome good() { return {Outcome::Kind::delivered, false, {}}; }
inline Outcome refused() { return {Outcome::Kind::refused, false, "550 5.1.1 no such user"}; }
inline Outcome later() { return {Outcome::Kind::later, false, "451 4.7.1 greylisted"}; }
inline Outcome away() { return {Outcome::Kind::unreachable, false, "connection refused"}; }

struct OutboxWorld {
  struct Arrived { std::uint64_t notice; std::string person, address; Duration when; EngineTime decided; bool repeat; };

  explicit OutboxWorld(std::vector<Recipient> people, OutboxLimits limits = {}) : outbox(limits, std::move(people)) {}

  bool tell(std::uint64_t notice, const std::string& who, Priority priority = Priority::high, NoticeKind kind = NoticeKind::alarm,
            bool about_delivery = false) {
    Message m;
    m.notice = notice;
    m.person = who;
    m.decided = at(now);
    m.priority = priority;
    m.kind = kind;
    m.about_delivery = about_delivery;
    return outbox.add(std::move(m), at(now));
  }
  void run(Duration span) {
    for (const Duration end = now + span; now < end; now += seconds(1)) step();
  }
  void step() {
    for (const auto& attempt : outbox.due(at(now))) {
      ++attempts;
      const Outcome o = answer(attempt.reach, now);
      if (o.kind == Outcome::Kind::delivered || o.may_have_arrived)
        arrived.push_back({attempt.message->notice, attempt.message->person, attempt.reach.address, now,
                           attempt.message->decided, attempt.repeat});
      outbox.answered(attempt.ticket, o, at(now));
    }
    for (auto& m : outbox.take_marks()) marks.push_back(std::move(m));
  }
  std::vector<std::uint64_t> of(const std::string& who) const {
    std::vector<std::uint64_t> out;
    for (const auto& a : arrived)
      if (a.person == who) out.push_back(a.notice);
    return out;
  }

  Outbox outbox;
  Duration now = hours(1);
  std::function<Outcome(const Reach&, Duration)> answer = [](const Reach&, Duration) { return good(); };
  std::vector<Arrived> arrived;
  std::vector<OutboxMark> marks;
  int attempts = 0;
};

inline Recipient by_mail(const std::string& id) { return {id, {{ReachBy::mail, id + "@example.org"}}}; }

}  // namespace riserkeep::testing
