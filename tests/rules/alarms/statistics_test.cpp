// Criteria of ISA-18.2-2016 clause 16 and EEMUA 191, from memory: flood above 10 in 10 min until below 5, stale after
// 24 h, chattering from 3 raises in a minute.
#include "rules/alarms/statistics.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Counting {
  House h;
  AlarmStatistics s;
  AlarmPoint leak{ClassId::leak, SystemId{0}}, high{ClassId::pressure_high, SystemId{1}};
  void pass(Duration d) {
    for (const EngineTime until = h.now + d; h.now < until;) s.tick(h.now += seconds(1));
  }
  AlarmFigures figures() const { return s.figures(h.board, h.now); }
};

}  // namespace

TEST_CASE("statistics: rates, peak, and what rested counted apart") {
  Counting c;
  c.pass(hours(1));
  for (int i = 0; i < 6; ++i) {
    c.s.raised(i < 4 ? c.leak : c.high, c.h.now, true);
    c.pass(minutes(2));
  }
  c.s.raised(c.leak, c.h.now, false);
  AlarmFigures f = c.figures();
  CHECK(f.last_10_min == 4);
  CHECK(f.peak_10_min == 5);
  CHECK(f.last_hour == 6);
  CHECK(f.last_7_d == 6);
  CHECK(f.rested_7_d == 1);
  CHECK(f.per_10_min == doctest::Approx(6 / 7.2).epsilon(0.01));   // 72 min
  REQUIRE(f.top.size() == 2);
  CHECK(f.top[0].point == c.leak);
  CHECK(f.top[0].raises == 4);
  CHECK_FALSE(f.flood);
  CHECK(f.chattering.empty());
  c.pass(days(8));
  f = c.figures();
  CHECK(f.last_7_d == 0);
  CHECK(f.top.empty());
  CHECK(f.peak_10_min == 0);
}

TEST_CASE("statistics: 1 in 10 min is 6 an hour and 144 a day") {
  Counting c;
  for (int i = 0; i < 144; ++i) {
    c.s.raised(c.leak, c.h.now, true);
    c.pass(minutes(10));
  }
  const AlarmFigures f = c.figures();
  CHECK(f.last_24_h >= 143);
  CHECK(f.last_24_h <= 144);
  CHECK(f.last_hour >= 5);
  CHECK(f.last_hour <= 6);
  CHECK(f.per_10_min == doctest::Approx(1.0).epsilon(0.01));
  CHECK(f.hours_above_30 == 0);
}

TEST_CASE("statistics: a flood begins above 10 in 10 min and ends below 5") {
  Counting c;
  c.pass(minutes(10));
  for (int i = 0; i < 10; ++i) c.s.raised(c.leak, c.h.now, true);
  c.pass(seconds(1));
  CHECK_FALSE(c.figures().flood);
  c.s.raised(c.high, c.h.now, true);
  c.pass(seconds(1));
  CHECK(c.figures().flood);
  c.pass(minutes(5));
  for (int i = 0; i < 5; ++i) c.s.raised(c.high, c.h.now, true);
  c.pass(minutes(7));
  CHECK(c.figures().flood);                  // the eleven are gone, five remain
  c.pass(minutes(4));
  CHECK_FALSE(c.figures().flood);
  CHECK(c.figures().in_flood > minutes(13));
  CHECK(c.figures().periods_above_10 == 1);
}

TEST_CASE("statistics: chattering is three raises of one point within a minute") {
  Counting c;
  for (int i = 0; i < 3; ++i) { c.s.raised(c.leak, c.h.now, true); c.pass(seconds(31)); }
  CHECK(c.figures().chattering.empty());
  for (int i = 0; i < 3; ++i) { c.s.raised(c.high, c.h.now, true); c.pass(seconds(30)); }
  REQUIRE(c.figures().chattering.size() == 1);
  CHECK(c.figures().chattering[0].point == c.high);
}

TEST_CASE("statistics: stale is standing for more than a day") {
  Counting c;
  Raise r;
  r.on_delay = Duration{};
  Effects out;
  c.h.board.judge(c.h.site, ClassId::leak, SystemId{0}, r, c.h.now, seconds(1), out);
  c.h.now += hours(24);
  CHECK(c.figures().stale.empty());
  c.h.now += seconds(1);
  REQUIRE(c.figures().stale.size() == 1);
  CHECK(c.figures().stale[0] == c.leak);
}

TEST_CASE("statistics: kept over a restart, bounded by a year of alarms every 100 seconds") {
  Counting c;
  for (int i = 0; i < 365 * 864; ++i) {
    c.h.now += seconds(100);
    c.s.raised({static_cast<ClassId>(i % 25), SystemId{static_cast<std::uint16_t>(i % 12)}}, c.h.now, true);
    c.s.tick(c.h.now);
  }
  Archive saved = Archive::saving();
  saved.section(1, 1, c.s);
  std::string bytes = std::move(saved).take();
  CHECK(bytes.size() < 60'000);
  AlarmStatistics again;
  Archive in = Archive::loading(std::move(bytes));
  REQUIRE(in.section(1, 1, again));
  CHECK(again.figures(c.h.board, c.h.now).last_7_d == c.figures().last_7_d);
  CHECK(again.figures(c.h.board, c.h.now).top.size() == 10);
}
