// States and transitions against ISA-18.2-2016 / IEC 62682:2014 (NORM, UNACK, ACKED, RTNUN, LTUNK, LTACK),
// from memory; on-delay "continuously true" and deadband on the return as in OPC 10000-9, 5.8.
#include "rules/alarms/lifecycle.h"

#include <doctest/doctest.h>

#include <array>
#include <set>
#include <tuple>

#include "rules/text.h"

using namespace riserkeep;
using enum AlarmState;

namespace {

AlarmClass kind(bool latching) {
  AlarmClass c = class_of(ClassId::pressure_low);
  c.on_delay = seconds(10);
  c.off_delay = seconds(5);
  c.latching = latching;
  return c;
}

Raise raise(std::optional<Priority> p = {}) {
  Raise r;
  r.value = 13.6;
  r.limit = 16;
  r.unit = "psi";
  r.priority = p;
  return r;
}

struct Bench {
  AlarmClass c;
  AlarmLifecycle life;
  EngineTime now{};
  std::uint64_t next = 1;
  explicit Bench(bool latching) : c(kind(latching)) {}

  std::optional<AlarmChange> feed(const Verdict& v, int for_seconds) {
    std::optional<AlarmChange> last;
    for (int i = 0; i < for_seconds; ++i) {
      now += seconds(1);
      if (const auto change = life.step(c, v, now, seconds(1), next)) last = change;
    }
    return last;
  }
  void to(AlarmState s) {
    if (s == normal) return;
    feed(raise(), 11);
    if (s == unacknowledged) return;
    if (s == acknowledged || s == latched_acknowledged) life.acknowledge("Ada");
    if (s != acknowledged) feed(Clear{}, 5);
    REQUIRE(life.state() == s);
  }
};

enum class Event { raise_short, raise_proven, clear_short, clear_proven, hold, cannot_tell, acknowledge, release, worse, stand_on };

struct Row {
  bool latching;
  AlarmState from;
  Event event;
  AlarmState to;
  std::optional<AlarmChange> change;
};

std::optional<AlarmChange> apply(Bench& b, Event e) {
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
    Bench b{row.latching};
    b.to(row.from);
    const auto change = apply(b, row.event);
    CHECK(b.life.state() == row.to);
    CHECK(change == row.change);
    // Kept and restored in this state, it goes on the same.
    Archive out = Archive::saving();
    out.section(1, 1, b.life);
    Bench again{row.latching};
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

TEST_CASE("lifecycle: the on-delay grows on good evidence only") {
  Bench b{false};
  b.feed(raise(), 6);
  CHECK(b.life.pending());
  b.feed(CannotTell{Why::stale}, 600);
  CHECK(b.life.pending());
  CHECK(b.life.unproven());
  CHECK_FALSE(b.feed(raise(), 4));
  CHECK(b.feed(raise(), 1) == AlarmChange::raised);
  CHECK(b.life.since() == EngineTime{seconds(1)});

  SUBCASE("a gap stands for no time") {
    Bench gap{false};
    gap.feed(raise(), 6);
    gap.now += hours(3);
    CHECK_FALSE(gap.life.step(gap.c, raise(), gap.now, Duration{}, gap.next));
    CHECK_FALSE(gap.feed(raise(), 4));
    CHECK(gap.feed(raise(), 1) == AlarmChange::raised);
  }
  SUBCASE("clear starts it anew") {
    Bench anew{false};
    anew.feed(raise(), 10);
    anew.feed(Clear{}, 1);
    CHECK_FALSE(anew.feed(raise(), 10));
    CHECK(anew.feed(raise(), 1) == AlarmChange::raised);
  }
}

TEST_CASE("lifecycle: the off-delay wants the condition gone without a break") {
  Bench b{false};
  b.to(acknowledged);
  b.feed(Clear{}, 4);
  b.feed(Hold{}, 1);
  CHECK_FALSE(b.feed(Clear{}, 4));
  b.feed(CannotTell{}, 100);
  CHECK(b.feed(Clear{}, 1) == AlarmChange::cleared);
}

TEST_CASE("lifecycle: a worse priority undoes the acknowledgement, a milder one changes nothing") {
  Bench b{false};
  b.to(acknowledged);
  CHECK_FALSE(b.feed(raise(Priority::critical), 9));
  CHECK(b.feed(raise(Priority::critical), 1) == AlarmChange::priority_changed);
  CHECK(b.life.state() == unacknowledged);
  CHECK(b.life.priority() == Priority::critical);
  b.life.acknowledge("Ada");
  CHECK_FALSE(b.feed(raise(Priority::low), 60));
  CHECK(b.life.priority() == Priority::critical);
  CHECK(b.life.state() == acknowledged);
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

TEST_CASE("lifecycle: re-alarm after a shift or a day of proven standing, as the same occurrence") {
  for (const auto& [priority, after] : {std::pair{Priority::critical, hours(8)}, {Priority::high, hours(24)}}) {
    Bench b{false};
    b.feed(raise(priority), 11);
    b.life.acknowledge("Ada");
    const OccurrenceId id = b.life.id();
    const int s = static_cast<int>(std::chrono::seconds{after}.count());
    CHECK_FALSE(b.feed(raise(priority), s / 2));
    CHECK_FALSE(b.feed(CannotTell{Why::stale}, 2 * s));     // no data repeats nothing
    CHECK_FALSE(b.feed(raise(priority), s - s / 2 - 1));
    CHECK(b.feed(raise(priority), 1) == AlarmChange::realarmed);
    CHECK(b.life.state() == unacknowledged);
    CHECK(b.life.id() == id);
    CHECK(b.life.who().empty());
    b.life.acknowledge("Bo");
    CHECK_FALSE(b.feed(raise(priority), s - 1));
    CHECK(b.feed(raise(priority), 1) == AlarmChange::realarmed);
  }
  CHECK_FALSE(realarm_after(Priority::medium));
  CHECK_FALSE(realarm_after(Priority::low));
}

TEST_CASE("lifecycle: a new occurrence is a new alarm with a new reference") {
  Bench b{false};
  b.to(unacknowledged);
  const OccurrenceId first = b.life.id();
  b.feed(Clear{}, 5);
  b.feed(raise(), 11);
  CHECK(b.life.id() != first);
  CHECK(reference_of(b.life.id()) != reference_of(first));
}

TEST_CASE("reference: short, one to one, without look-alikes, typed in any case") {
  std::set<std::string> seen;
  for (std::uint64_t n = 1; n <= 40'000; ++n) {
    const std::string r = reference_of(OccurrenceId{n});
    CHECK_MESSAGE(r.find_first_of("0O1I") == std::string::npos, r);
    REQUIRE(seen.insert(r).second);
    if (n < 32'768) REQUIRE(r.size() == 3);
  }
  CHECK(reference_of(OccurrenceId{40'000}).size() == 4);
  CHECK(parse_reference("7k6") == "7K6");
  CHECK(parse_reference(" 7K 6 ") == "7K6");
  CHECK_FALSE(parse_reference("7K0"));
  CHECK_FALSE(parse_reference("7K"));
  CHECK_FALSE(parse_reference(""));
}
