// Trip of a differential valve: highest water pressure / ratio, 100 psi / 5.5 = 18.2 psi (common practice).
#include "rules/judge/near_trip.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

// Reads every 2 s, falling by `per_min`, judging each second.
Verdict fall(House& h, Bench<NearTripRule>& rule, double& p, double per_min, Duration for_) {
  Verdict v = CannotTell{};
  for (Duration t{}; t < for_; t += seconds(1)) {
    h.now += seconds(1);
    if (h.now.time_since_epoch() % seconds(2) == Duration{}) {
      p -= per_min / 30;
      h.read(h.dock_air, p);
    }
    v = rule.all()[0];
  }
  return v;
}

}  // namespace

TEST_CASE("near trip: within 5 psi of the trip pressure, with a psi of deadband") {
  House h;
  Bench<NearTripRule> rule{h, h.dock};
  const double trip = 100.0 / 5.5;
  const auto at = [&](double p) {
    h.now += minutes(2);           // far apart: no rate
    h.read(h.dock_air, p);
    return rule.all()[0];
  };
  CHECK(cannot(rule.all()[0]));
  CHECK(clear(at(38)));
  CHECK(holds(at(trip + 5.9)));
  CHECK(raises(at(trip + 4.99)));
  CHECK(holds(at(trip + 5.01)));
  CHECK(clear(at(trip + 6.01)));
  h.bad(h.dock_air, Why::failed_low);
  CHECK(cannot(rule.all()[0]));
}

TEST_CASE("near trip: there in less than 30 min at the present rate") {
  House h;
  Bench<NearTripRule> rule{h, h.dock};
  double p = 38;
  CHECK(clear(fall(h, rule, p, 0.0, minutes(5))));
  SUBCASE("1 psi a minute from 38 psi is 20 min") {
    const auto v = fall(h, rule, p, 1.0, minutes(4));
    REQUIRE(raises(v));
    CHECK(std::get<Raise>(v).cause.starts_with("trip point in about 1"));
    CHECK(clear(fall(h, rule, p, 0.0, minutes(6))));
  }
  SUBCASE("0.2 psi a minute is more than an hour") { CHECK(clear(fall(h, rule, p, 0.2, minutes(8)))); }
  SUBCASE("our own vent above the floor explains it") {
    h.vents[0].phase = VentPhase::venting;
    CHECK_FALSE(raises(fall(h, rule, p, 1.0, minutes(5))));
  }
  SUBCASE("below the floor it explains nothing") {
    h.vents[0].phase = VentPhase::venting;
    CHECK(raises(fall(h, rule, p, 1.0, minutes(8))));
  }
  SUBCASE("noise is no fall") {
    for (int i = 0; i < 300; ++i) {
      h.now += seconds(2);
      h.read(h.dock_air, 38 + 0.3 * ((i * 7) % 5 - 2));
      CHECK_FALSE(raises(rule.all()[0]));
    }
  }
}

TEST_CASE("near trip: where losing air admits no water there is nothing near") {
  House h;
  Bench<NearTripRule> rule{h, h.archive};   // double interlock
  h.read(h.archive_air, 2);
  CHECK(clear(rule.all()[0]));
}

TEST_CASE("near trip: measured water pressure moves the trip point for a week") {
  House h;
  h.site.systems[0].water_pressure = h.channel(h.dock, Signal::water_pressure, seconds(2), seconds(60));
  h.reset();
  Bench<NearTripRule> rule{h, h.dock};
  h.read(*h.site.systems[0].water_pressure, 150);   // trip 27.3
  h.read(h.dock_air, 31);
  CHECK(raises(rule.all()[0]));
  for (int day = 0; day < 6; ++day) {
    h.now += hours(24);
    h.read(*h.site.systems[0].water_pressure, 90);
    h.read(h.dock_air, 31);
    CHECK(raises(rule.all()[0]));
  }
  for (int day = 0; day < 3; ++day) {
    h.now += hours(24);
    h.read(h.dock_air, 31);
    rule.all();
  }
  CHECK(clear(rule.all()[0]));
}
