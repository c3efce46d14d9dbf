// States and transitions against ISA-18.2-2016 / IEC 62682:2014 (NORM, UNACK, ACKED, RTNUN, LTUNK, LTACK),
// from memory; on-delay "continuously true" and deadband on the return as in OPC 10000-9, 5.8.
#include <array>
#include <set>
#include <tuple>

#include "rules/text.h"
#include "tests/rules/alarms/life_bench.h"

using namespace riserkeep;

namespace {

enum class Event { raise_short, raise_proven, clear_short, clear_proven, hold, cannot_tell, acknowledge, release, worse, stand_on };

struct Row {
  bool latching;
  AlarmState from;
  Event event;
  AlarmState to;
  std::optional<AlarmChange> change;
};

std::optional<AlarmChange> apply(LifeBench& b, Event e) {
  switch (e) {
    case Event::raise_short: return b.feed(raise(), 9);
    case Event::raise_proven: return b.feed(raise(), 11);
    case Event::clear_short: return b.feed(Clear{}, 4);
    case Event::clear_proven: return b.feed(Clear{}, 5);
    case Event::hold: return b.feed(Hold{}, 3600);
    case Event::cannot_tell: return b.feed(CannotTell{Why::stale}, 3600);
    case Event::acknowledge: return b.life.acknowledge("Bo") ? std::optional{AlarmChange::acknowledged} : std::nullopt;
    case Event::release: return b.life.release("Bo") ? std::optional{AlarmChange::released} : std::nullopt;
    case Event::worse: return b.feed(raise(Priority::critical), 10);
    case Event::stand_on: return b.feed(raise(), 24 * 3600 + 12);   // of priority high: re-alarm after a day
  }
  return std::nullopt;
}

constexpr auto kNo = std::nullopt;
constexpr std::array<Row, 10> kNormal{{
    {false, normal, Event::raise_short, normal, kNo},
    {false, normal, Event::raise_proven, unacknowledged, AlarmChange::raised},
    {false, normal, Event::clear_short, normal, kNo},
    {false, normal, Event::clear_proven, normal, kNo},
    {false, normal, Event::hold, normal, kNo},
    {false, normal, Event::cannot_tell, normal, kNo},
    {false, normal, Event::acknowledge, normal, kNo},
    {false, normal, Event::release, normal, kNo},
    {false, normal, Event::worse, normal, kNo},
    {false, normal, Event::stand_on, unacknowledged, AlarmChange::raised},
}};
constexpr std::array<Row, 10> kUnack{{
    {false, unacknowledged, Event::raise_short, unacknowledged, kNo},
    {false, unacknowledged, Event::raise_proven, unacknowledged, kNo},
    {false, unacknowledged, Event::clear_short, unacknowledged, kNo},
    {false, unacknowledged, Event::clear_proven, returned_unacknowledged, AlarmChange::cleared},
    {false, unacknowledged, Event::hold, unacknowledged, kNo},
    {false, unacknowledged, Event::cannot_tell, unacknowledged, kNo},
    {false, unacknowledged, Event::acknowledge, acknowledged, AlarmChange::acknowledged},
    {false, unacknowledged, Event::release, unacknowledged, kNo},
    {false, unacknowledged, Event::worse, unacknowledged, AlarmChange::priority_changed},
    {false, unacknowledged, Event::stand_on, unacknowledged, kNo},
}};
constexpr std::array<Row, 10> kAcked{{
    {false, acknowledged, Event::raise_short, acknowledged, kNo},
    {false, acknowledged, Event::raise_proven, acknowledged, kNo},
    {false, acknowledged, Event::clear_short, acknowledged, kNo},
    {false, acknowledged, Event::clear_proven, normal, AlarmChange::cleared},
    {false, acknowledged, Event::hold, acknowledged, kNo},
    {false, acknowledged, Event::cannot_tell, acknowledged, kNo},
    {false, acknowledged, Event::acknowledge, acknowledged, kNo},
    {false, acknowledged, Event::release, acknowledged, kNo},
    {false, acknowledged, Event::worse, unacknowledged, AlarmChange::priority_changed},
    {false, acknowledged, Event::stand_on, unacknowledged, AlarmChange::realarmed},
}};
constexpr std::array<Row, 10> kReturned{{
    {false, returned_unacknowledged, Event::raise_short, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::raise_proven, unacknowledged, AlarmChange::raised},
    {false, returned_unacknowledged, Event::clear_short, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::clear_proven, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::hold, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::cannot_tell, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::acknowledge, normal, AlarmChange::acknowledged},
    {false, returned_unacknowledged, Event::release, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::worse, returned_unacknowledged, kNo},
    {false, returned_unacknowledged, Event::stand_on, unacknowledged, AlarmChange::raised},
}};
constexpr std::array<Row, 50> kLatched{{
    {true, normal, Event::raise_short, normal, kNo},
    {true, normal, Event::raise_proven, unacknowledged, AlarmChange::raised},
    {true, normal, Event::clear_short, normal, kNo},
    {true, normal, Event::clear_proven, normal, kNo},
    {true, normal, Event::hold, normal, kNo},
    {true, normal, Event::cannot_tell, normal, kNo},
    {true, normal, Event::acknowledge, normal, kNo},
    {true, normal, Event::release, normal, kNo},
    {true, normal, Event::worse, normal, kNo},
    {true, normal, Event::stand_on, unacknowledged, AlarmChange::raised},
    {true, unacknowledged, Event::raise_short, unacknowledged, kNo},
    {true, unacknowledged, Event::raise_proven, unacknowledged, kNo},
    {true, unacknowledged, Event::clear_short, unacknowledged, kNo},
    {true, unacknowledged, Event::hold, unacknowledged, kNo},
    {true, unacknowledged, Event::cannot_tell, unacknowledged, kNo},
    {true, unacknowledged, Event::acknowledge, acknowledged, AlarmChange::acknowledged},
    {true, unacknowledged, Event::release, unacknowledged, kNo},
    {true, unacknowledged, Event::worse, unacknowledged, AlarmChange::priority_changed},
    {true, unacknowledged, Event::stand_on, unacknowledged, kNo},
    {true, acknowledged, Event::raise_short, acknowledged, kNo},
    {true, acknowledged, Event::raise_proven, acknowledged, kNo},
    {true, acknowledged, Event::clear_short, acknowledged, kNo},
    {true, acknowledged, Event::hold, acknowledged, kNo},
    {true, acknowledged, Event::cannot_tell, acknowledged, kNo},
    {true, acknowledged, Event::acknowledge, acknowledged, kNo},
    {true, acknowledged, Event::release, acknowledged, kNo},
    {true, acknowledged, Event::worse, unacknowledged, AlarmChange::priority_changed},
    {true, acknowledged, Event::stand_on, unacknowledged, AlarmChange::realarmed},
    {true, latched_unacknowledged, Event::stand_on, unacknowledged, AlarmChange::raised},
    {true, latched_acknowledged, Event::stand_on, unacknowledged, AlarmChange::raised},
    {true, unacknowledged, Event::clear_proven, latched_unacknowledged, AlarmChange::cleared},
    {true, acknowledged, Event::clear_proven, latched_acknowledged, AlarmChange::cleared},
    {true, latched_unacknowledged, Event::raise_short, latched_unacknowledged, kNo},
    {true, latched_unacknowledged, Event::raise_proven, unacknowledged, AlarmChange::raised},
    {true, latched_unacknowledged, Event::clear_short, latched_unacknowledged, kNo},
    {true, latched_unacknowledged, Event::clear_proven, latched_unacknowledged, kNo},
    {true, latched_unacknowledged, Event::hold, latched_unacknowledged, kNo},
    {true, latched_unacknowledged, Event::cannot_tell, latched_unacknowledged, kNo},
    {true, latched_unacknowledged, Event::acknowledge, latched_acknowledged, AlarmChange::acknowledged},
    {true, latched_unacknowledged, Event::release, normal, AlarmChange::released},
    {true, latched_unacknowledged, Event::worse, latched_unacknowledged, kNo},
    {true, latched_acknowledged, Event::raise_short, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::raise_proven, unacknowledged, AlarmChange::raised},
    {true, latched_acknowledged, Event::clear_short, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::clear_proven, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::hold, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::cannot_tell, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::acknowledge, latched_acknowledged, kNo},
    {true, latched_acknowledged, Event::release, normal, AlarmChange::released},
    {true, latched_acknowledged, Event::worse, latched_acknowledged, kNo},
}};

template <class Table>
void check_table(const Table& table) {
  for (const Row& row : table) {
    CAPTURE(word(row.from));
    CAPTURE(static_cast<int>(row.event));
    LifeBench b{row.latching};
    b.to(row.from);
    const auto change = apply(b, row.event);
    CHECK(b.life.state() == row.to);
    CHECK(change == row.change);
    // Kept and restored in this state, it goes on the same.
    Archive out = Archive::saving();
    out.section(1, 1, b.life);
    LifeBench again{row.latching};
    again.next = b.next;
    again.now = b.now;
    Archive in = Archive::loading(std::move(out).take());
    REQUIRE(in.section(1, 1, again.life));
    for (const Verdict& v : {Verdict{raise()}, Verdict{Clear{}}}) {
      CHECK(b.feed(v, 6) == again.feed(v, 6));
      CHECK(b.life.state() == again.life.state());
      CHECK(b.life.id() == again.life.id());
      CHECK(b.life.since() == again.life.since());
    }
  }
}

}  // namespace

TEST_CASE("lifecycle: every event in every state (ISA-18.2 / IEC 62682, from memory)") {
  check_table(kNormal);
  check_table(kUnack);
  check_table(kAcked);
  check_table(kReturned);
  check_table(kLatched);
}

TEST_CASE("lifecycle: every pair of state and event is in the table, once") {
  std::set<std::tuple<bool, AlarmState, Event>> pairs;
  const auto add = [&](const auto& table) { for (const Row& r : table) CHECK(pairs.insert({r.latching, r.from, r.event}).second); };
  add(kNormal);
  add(kUnack);
  add(kAcked);
  add(kReturned);
  add(kLatched);
  // Alarms that latch have no returned-unacknowledged, the others no latched states.
  CHECK(pairs.size() == (4 + 5) * 10);
}

