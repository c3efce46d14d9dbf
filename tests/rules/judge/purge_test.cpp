#include "rules/judge/purge.h"

#include <doctest/doctest.h>

#include "rules/calendar_book.h"
#include "rules/judge/vent_follow.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

TEST_CASE("purge: purity fell only when it was there and two samples say so") {
  House h;
  Bench<PurgeRule> rule{h, h.dock};
  PurityState& p = h.vents[0].purity;
  CHECK(cannot(rule.of(ClassId::purity_low)));
  p.rested = oxygen_percent(1.8);
  p.rested_at = h.now;
  CHECK(clear(rule.of(ClassId::purity_low)));
  p.was_at_target = true;
  p.rested = oxygen_percent(2.4);
  p.confirmed_below = 1;
  CHECK(holds(rule.of(ClassId::purity_low)));
  p.confirmed_below = 2;
  const auto v = std::get<Raise>(rule.of(ClassId::purity_low));
  CHECK(v.value == doctest::Approx(2.4));
  CHECK(v.limit == doctest::Approx(2.0));
  p.was_at_target = false;       // a new purge has begun: the alarm stands until a sample is at the target
  p.confirmed_below = 0;
  CHECK(holds(rule.of(ClassId::purity_low)));
  p.rested = oxygen_percent(2.0);
  CHECK(clear(rule.of(ClassId::purity_low)));
}

TEST_CASE("purge: a stall brings its cause") {
  House h;
  Bench<PurgeRule> rule{h, h.dock};
  CHECK(clear(rule.of(ClassId::purity_stall)));
  h.vents[0].findings.stalled = h.now;
  h.vents[0].findings.stall_why = "15 contents vented";
  CHECK(std::get<Raise>(rule.of(ClassId::purity_stall)).cause == "15 contents vented");
}

TEST_CASE("purge: overdue after 21 days, medium after 35, a proof grows old after 35") {
  House h;
  Bench<PurgeRule> rule{h, h.dock};
  VentState& v = h.vents[0];
  CHECK(clear(rule.of(ClassId::purge_overdue)));   // mode watch
  v.mode = Mode::purge;
  v.purge_began = h.now;
  const EngineTime began = h.now;
  h.now = began + days(21);
  CHECK(clear(rule.of(ClassId::purge_overdue)));
  h.now += seconds(1);
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).priority == Priority::low);
  h.now = began + days(35) + seconds(1);
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).priority == Priority::medium);
  v.mode = Mode::keep;
  v.purity.verified_at = h.now - days(35);
  CHECK(clear(rule.of(ClassId::purge_overdue)));
  h.now += seconds(1);
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).cause == "last verified 35 d ago");
}

TEST_CASE("purge: the date in the site file makes it overdue, whatever the days since its start") {
  House h;
  h.site.systems[0].purity->purge_due = WallTime{1};
  CalendarBook book;
  h.calendar = &book;
  Bench<PurgeRule> rule{h, h.dock};
  VentState& v = h.vents[0];
  v.mode = Mode::purge;
  v.purge_began = h.now;
  CHECK(clear(rule.of(ClassId::purge_overdue)));
  book.take(h.site, {CalendarKey::purge_due, true, 0}, h.now);
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).cause == "the date it was due has passed");
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).priority == Priority::low);
  h.now += days(14) + seconds(1);
  CHECK(std::get<Raise>(rule.of(ClassId::purge_overdue)).priority == Priority::medium);
  v.mode = Mode::keep;           // verified: the date no longer matters
  v.purity.verified_at = h.now;
  CHECK(clear(rule.of(ClassId::purge_overdue)));
  v.mode = Mode::purge;
  book.take(h.site, {CalendarKey::purge_due, false, 0}, h.now);   // a later date was written
  CHECK(clear(rule.of(ClassId::purge_overdue)));
}

TEST_CASE("purge: a system without a target has no purity to lose") {
  House h;
  Bench<PurgeRule> rule{h, h.archive};
  for (const Verdict& v : rule.all()) CHECK(clear(v));
}

TEST_CASE("vent follow: findings become alarms with their words") {
  House h;
  Bench<VentFollowRule> rule{h, h.dock};
  for (const Verdict& v : rule.all()) CHECK(clear(v));
  VentFindings& f = h.vents[0].findings;
  f.blocked = f.stuck_open = f.mismatch = h.now;
  f.blocked_why = "no fall after 69 s";
  f.stuck_why = "falls on, 3 min after the close";
  f.mismatch_why = "coil reads open, order was shut";
  h.read(h.dock_air, 33.3);
  const auto all = rule.all();
  CHECK(std::get<Raise>(all[0]).cause == "no fall after 69 s");
  CHECK(std::get<Raise>(all[0]).value == doctest::Approx(33.3));
  CHECK(std::get<Raise>(all[1]).cause == "falls on, 3 min after the close");
  CHECK(std::get<Raise>(all[2]).cause == "coil reads open, order was shut");
  h.bad(h.dock_air, Why::no_value);
  CHECK(raises(rule.all()[1]));   // the finding stands without the gauge
}
