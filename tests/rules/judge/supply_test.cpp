#include "rules/judge/supply.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Fed : House {
  Bench<SupplyRule> rule{*this, SupplyId{0}};
  double dock_psi = 38, archive_psi = 38;

  Verdict run(Duration for_, ClassId c, double dock_per_min = 0) {
    Verdict v = CannotTell{};
    for (Duration t{}; t < for_; t += seconds(1)) {
      now += seconds(1);
      if (now.time_since_epoch() % seconds(2) == Duration{}) {
        dock_psi += dock_per_min / 30;
        read(dock_air, dock_psi);
        read(archive_air, archive_psi);
      }
      v = rule.of(c);
    }
    return v;
  }
};

}  // namespace

TEST_CASE("supply: air below cut-in without a rise for 30 min means it has failed") {
  Fed h;
  CHECK(clear(h.run(minutes(1), ClassId::supply_failed)));
  h.dock_psi = 32.9;             // cut-in 35, less 2
  CHECK(clear(h.run(minutes(29), ClassId::supply_failed)));
  const auto v = h.run(minutes(2), ClassId::supply_failed);
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).cause == "Loading dock stays at 32.9 psi");
  SUBCASE("it clears once the air is back") {
    h.dock_psi = 36;
    CHECK(clear(h.run(seconds(4), ClassId::supply_failed)));
  }
  SUBCASE("at the limit itself the feed is not overdue") {
    h.dock_psi = 33.0;
    CHECK(clear(h.run(minutes(40), ClassId::supply_failed)));
  }
}

TEST_CASE("supply: a rise is an effect, an open vent an explanation, silence neither") {
  Fed h;
  h.run(minutes(1), ClassId::supply_failed);
  h.dock_psi = 20;
  SUBCASE("slowly rising") { CHECK(clear(h.run(minutes(45), ClassId::supply_failed, 0.02))); }
  SUBCASE("vent open") {
    h.outputs[0].commanded_open = true;
    CHECK(clear(h.run(minutes(45), ClassId::supply_failed)));
  }
  SUBCASE("dead gauge") {
    h.bad(h.dock_air, Why::failed_low);
    CHECK(cannot(h.rule.of(ClassId::supply_failed)));
    for (int i = 0; i < 3600; ++i) {
      h.now += seconds(1);
      CHECK_FALSE(raises(h.rule.of(ClassId::supply_failed)));
    }
  }
}

TEST_CASE("supply: a refill that runs on") {
  Fed h;
  h.dock_psi = 34.5;
  h.run(minutes(3), ClassId::supply_failed);
  CHECK_FALSE(raises(h.run(minutes(28), ClassId::supply_failed, 0.15)));
  REQUIRE(h.twins[0].refills().running());
  const auto v = h.run(minutes(6), ClassId::supply_failed, 0.15);
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).cause == "Loading dock fills and does not get there; look at its vent too");
}

TEST_CASE("supply: its oxygen against the strictest target less half a percent") {
  Fed h;
  const auto with = [&](double percent) {
    h.supplies[0] = {oxygen_percent(percent), h.now};
    return h.rule.of(ClassId::supply_purity_low);
  };
  CHECK(cannot(h.rule.of(ClassId::supply_purity_low)));
  CHECK(clear(with(1.0)));
  CHECK(holds(with(1.45)));
  CHECK(raises(with(1.51)));
  CHECK(std::get<Raise>(with(1.8)).limit == doctest::Approx(1.5));
  h.now += hours(25);            // a day old: not measured
  CHECK(cannot(h.rule.of(ClassId::supply_purity_low)));
  h.site.systems[0].purity.reset();
  CHECK(clear(h.rule.of(ClassId::supply_purity_low)));
}

TEST_CASE("supply: the bypass contact or the cell say that it is air") {
  Fed h;
  CHECK(cannot(h.rule.of(ClassId::supply_is_air)));
  h.read(h.bypass, 0);
  CHECK(clear(h.rule.of(ClassId::supply_is_air)));
  h.supplies[0] = {oxygen_percent(20.5), h.now};
  CHECK(raises(h.rule.of(ClassId::supply_is_air)));
  h.supplies[0] = {oxygen_percent(1.0), h.now};
  h.read(h.bypass, 1);
  CHECK(std::get<Raise>(h.rule.of(ClassId::supply_is_air)).cause == "air bypass is open");
  h.bad(h.bypass, Why::no_value);
  CHECK(cannot(h.rule.of(ClassId::supply_is_air)));
}
