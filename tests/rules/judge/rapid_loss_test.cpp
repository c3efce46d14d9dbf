#include "rules/judge/rapid_loss.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Pipe : House {
  Bench<RapidLossRule> rule{*this, dock};
  double p = 38;

  void read_at(double value) {
    now += seconds(2);
    p = value;
    read(dock_air, p);
    read(dock_flow, flow);
  }
  // Judged after every reading; was it a rapid loss in any of them?
  bool fall(double per_min, Duration for_) {
    bool any = false;
    for (Duration t{}; t < for_; t += seconds(2)) {
      read_at(p - per_min / 30);
      any = raises(rule.of(ClassId::rapid_loss)) || any;
    }
    return any;
  }
  double flow = 0;
};

}  // namespace

TEST_CASE("rapid loss: faster than any leak, over three readings") {
  Pipe h;
  CHECK_FALSE(h.fall(0, minutes(2)));
  SUBCASE("2.9 psi a minute is no rapid loss") { CHECK_FALSE(h.fall(2.9, minutes(3))); }
  SUBCASE("3.5 psi a minute is") { CHECK(h.fall(3.5, minutes(1))); }
  SUBCASE("three readings are enough for a collapse, two are not") {
    h.read_at(36);
    CHECK(clear(h.rule.of(ClassId::rapid_loss)));
    h.read_at(34);
    CHECK(clear(h.rule.of(ClassId::rapid_loss)));
    h.read_at(32);
    const auto v = h.rule.of(ClassId::rapid_loss);
    REQUIRE(raises(v));
    CHECK(std::get<Raise>(v).unit == "psi/min");
    CHECK(std::get<Raise>(v).limit == doctest::Approx(3));
    h.read_at(32);
    CHECK(clear(h.rule.of(ClassId::rapid_loss)));
  }
  SUBCASE("one step down is a gauge, not a loss") {
    h.read_at(20);
    for (int i = 0; i < 30; ++i) {
      h.read_at(20);
      CHECK_FALSE(raises(h.rule.of(ClassId::rapid_loss)));
    }
  }
  SUBCASE("noise is none") {
    for (int i = 0; i < 2000; ++i) {
      h.read_at(38 + 0.2 * ((i * 7) % 5 - 2));
      CHECK_FALSE(raises(h.rule.of(ClassId::rapid_loss)));
    }
  }
  SUBCASE("twice what the open vent explains is none either") {
    h.outputs[0].commanded_open = true;
    h.vents[0].commissioning.fall_share_per_s = 0.0016;   // of 53 psi absolute: 5 psi a minute
    CHECK_FALSE(h.fall(6, minutes(1)));
    CHECK(h.fall(15, seconds(30)));
  }
}

TEST_CASE("valve operated: a collapse and waterflow") {
  Pipe h;
  h.fall(0, minutes(2));
  SUBCASE("waterflow alone is the fire panel's") {
    h.flow = 1;
    h.fall(0, minutes(1));
    CHECK(clear(h.rule.of(ClassId::valve_operated)));
  }
  SUBCASE("a collapse alone is not enough") {
    h.fall(30, seconds(30));
    CHECK(clear(h.rule.of(ClassId::valve_operated)));
  }
  SUBCASE("both, and it stays until all is quiet for ten minutes") {
    h.fall(30, seconds(30));
    h.flow = 1;
    h.read_at(h.p);
    auto v = h.rule.of(ClassId::valve_operated);
    REQUIRE(raises(v));
    CHECK(std::get<Raise>(v).cause == "air collapsed and waterflow");
    h.fall(0, minutes(20));
    CHECK(raises(h.rule.of(ClassId::valve_operated)));
    h.flow = 0;
    h.fall(0, minutes(9));
    CHECK(raises(h.rule.of(ClassId::valve_operated)));
    h.fall(0, minutes(12));
    CHECK(clear(h.rule.of(ClassId::valve_operated)));
  }
}

TEST_CASE("valve operated: a collapse, then water pressure in the air line") {
  Pipe h;
  h.site.systems[0].waterflow.reset();
  h.fall(0, minutes(2));
  h.fall(60, seconds(30));
  CHECK(clear(h.rule.of(ClassId::valve_operated)));
  h.read_at(57.9);                 // band to 48 psi, and 10
  CHECK(clear(h.rule.of(ClassId::valve_operated)));
  h.read_at(75);
  const auto v = h.rule.of(ClassId::valve_operated);
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).cause == "air collapsed, then water pressure in the air line");
}

TEST_CASE("rapid loss: a dead gauge is neither loss nor operation") {
  Pipe h;
  h.fall(0, minutes(2));
  h.now += seconds(2);
  h.bad(h.dock_air, Why::failed_low);
  h.read(h.dock_flow, 1);
  CHECK(std::get<CannotTell>(h.rule.of(ClassId::rapid_loss)).why == Why::failed_low);
  CHECK(cannot(h.rule.of(ClassId::valve_operated)));
}
