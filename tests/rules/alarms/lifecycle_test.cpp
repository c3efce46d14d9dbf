// Delays, re-alarm, references: what the state table does not show. Sources as there.
#include <doctest/doctest.h>

#include <set>

#include "tests/rules/alarms/life_bench.h"

using namespace riserkeep;

TEST_CASE("lifecycle: the on-delay grows on good evidence only") {
  LifeBench b{false};
  b.feed(raise(), 6);
  CHECK(b.life.pending());
  b.feed(CannotTell{Why::stale}, 600);
  CHECK(b.life.pending());
  CHECK(b.life.unproven());
  CHECK_FALSE(b.feed(raise(), 4));
  CHECK(b.feed(raise(), 1) == AlarmChange::raised);
  CHECK(b.life.since() == EngineTime{seconds(1)});

  SUBCASE("a gap stands for no time") {
    LifeBench gap{false};
    gap.feed(raise(), 6);
    gap.now += hours(3);
    CHECK_FALSE(gap.life.step(gap.c, raise(), gap.now, Duration{}, gap.next));
    CHECK_FALSE(gap.feed(raise(), 4));
    CHECK(gap.feed(raise(), 1) == AlarmChange::raised);
  }
  SUBCASE("clear starts it anew") {
    LifeBench anew{false};
    anew.feed(raise(), 10);
    anew.feed(Clear{}, 1);
    CHECK_FALSE(anew.feed(raise(), 10));
    CHECK(anew.feed(raise(), 1) == AlarmChange::raised);
  }
}

TEST_CASE("lifecycle: the off-delay wants the condition gone without a break") {
  LifeBench b{false};
  b.to(acknowledged);
  b.feed(Clear{}, 4);
  b.feed(Hold{}, 1);
  CHECK_FALSE(b.feed(Clear{}, 4));
  b.feed(CannotTell{}, 100);
  CHECK(b.feed(Clear{}, 1) == AlarmChange::cleared);
}

TEST_CASE("lifecycle: a worse priority undoes the acknowledgement, a milder one changes nothing") {
  LifeBench b{false};
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

TEST_CASE("lifecycle: re-alarm after a shift or a day of proven standing, as the same occurrence") {
  for (const auto& [priority, after] : {std::pair{Priority::critical, hours(8)}, {Priority::high, hours(24)}}) {
    LifeBench b{false};
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
  LifeBench b{false};
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
