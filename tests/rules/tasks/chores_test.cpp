#include "rules/tasks/chores.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

Site with_chores() {
  Site site = House{}.site;
  site.chores = {{ChoreKind::gauge_comparison, SystemId{0}, days(90), {}},
                 {ChoreKind::air_check, AnalyserId{0}, days(30), {}},
                 {ChoreKind::low_point_drains, SystemId{1}, {}, Chore::Date{10, 15}}};
  return site;
}

}  // namespace

TEST_CASE("chores: overdue counts from the last time, or from when they were first asked for") {
  const Site site = with_chores();
  Chores chores{site};
  EngineTime now{hours(5)};
  chores.tick(now);
  CHECK(chores.overdue(site, now + days(29)).empty());
  auto late = chores.overdue(site, now + days(31));
  REQUIRE(late.size() == 1);
  CHECK(late[0].chore == 1);
  CHECK(late[0].since == now + days(30));
  CHECK_FALSE(late[0].done);
  CHECK(late[0].first_seen == now);
  chores.counted(site, ChoreKind::air_check, AnalyserId{0}, "Lee", now + days(31));
  CHECK(chores.overdue(site, now + days(60)).empty());
  late = chores.overdue(site, now + days(95));
  REQUIRE(late.size() == 2);
  CHECK(late[0].since == now + days(61));   // the longest overdue first
  CHECK(late[0].by == "Lee");
  CHECK(late[1].chore == 0);
}

TEST_CASE("chores: a dated one is due when the calendar says so, unless it was done ahead") {
  const Site site = with_chores();
  EngineTime now{days(300)};
  for (const bool ahead : {false, true}) {
    Chores chores{site};
    chores.tick(now);
    if (ahead) chores.counted(site, ChoreKind::low_point_drains, SystemId{1}, "Lee", now - days(20));
    chores.calendar(2, now);
    CHECK(chores.overdue(site, now + days(1)).size() == (ahead ? 0 : 1));
    chores.calendar(9, now);
    chores.counted(site, ChoreKind::low_point_drains, SystemId{1}, "Lee", now + days(1));
    CHECK(chores.overdue(site, now + days(2)).empty());
  }
}

TEST_CASE("chores: done with person, as found, as left") {
  const Site site = with_chores();
  Chores chores{site};
  Effects out;
  std::string why;
  const EngineTime now{hours(5)};
  CHECK_FALSE(chores.done(site, {SystemId{0}, ChoreKind::air_check, {}, {}, ""}, "Lee", now, out, why));
  CHECK(why == "air check: that is of an analyser");
  CHECK(chores.done(site, {SystemId{0}, ChoreKind::gauge_comparison, 0.4, 0.1, "screw sealed"}, "Lee", now, out, why));
  REQUIRE(out.size() == 1);
  CHECK(std::get<Note>(out[0].effect).text == "gauge comparison done by Lee; as found 0.40 psi; as left 0.10 psi; screw sealed");
  CHECK(chores.states()[0].done == now);
}

TEST_CASE("chores: kept by kind and place, whatever the order in the site file") {
  Site site = with_chores();
  Chores chores{site};
  chores.tick(EngineTime{hours(1)});
  chores.counted(site, ChoreKind::gauge_comparison, SystemId{0}, "Lee", EngineTime{hours(2)});
  Archive saved = Archive::saving();
  saved.section(1, 1, chores);
  std::swap(site.chores[0], site.chores[2]);
  site.chores.pop_back();
  site.chores.push_back({ChoreKind::gauge_comparison, SystemId{0}, days(90), {}});
  Chores again{site};
  Archive in = Archive::loading(std::move(saved).take());
  REQUIRE(in.section(1, 1, again));
  CHECK(again.states()[2].by == "Lee");
  CHECK_FALSE(again.states()[0].done);
}
