#include "rules/judge/instrument.h"

#include <doctest/doctest.h>

#include "rules/judge/analyser.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

void contacts(House& h) {
  h.read(h.dock_low, 0);
  h.read(h.dock_flow, 0);
}

}  // namespace

TEST_CASE("instrument: bad for two minutes, with its reason") {
  House h;
  Bench<InstrumentRule> rule{h, h.dock};
  contacts(h);
  h.read(h.dock_air, 38);
  CHECK(clear(rule.all()[0]));
  for (int i = 0; i < 60; ++i) {
    h.now += seconds(2);
    contacts(h);
    h.bad(h.dock_air, Why::failed_high);
    CHECK(cannot(rule.all()[0]));
  }
  h.now += seconds(2);
  contacts(h);
  h.bad(h.dock_air, Why::failed_high);
  CHECK(std::get<Raise>(rule.all()[0]).cause == "pressure: failed high");
  h.read(h.dock_air, 38);
  CHECK(clear(rule.all()[0]));
}

TEST_CASE("instrument: silence behind a link is the link's, without a link it is the instrument's") {
  House h;
  Bench<InstrumentRule> rule{h, h.dock};
  contacts(h);
  h.read(h.dock_air, 38);
  h.now += minutes(10);
  CHECK(cannot(rule.all()[0]));
  h.now += minutes(10);
  CHECK(cannot(rule.all()[0]));
  for (Channel& c : h.site.channels) c.link.reset();
  CHECK(cannot(rule.all()[0]));
  h.now += minutes(3);
  CHECK(std::get<Raise>(rule.all()[0]).cause == "pressure: stale");
}

TEST_CASE("instrument: a gauge that used to move and stands still is frozen") {
  House h;
  Bench<InstrumentRule> rule{h, h.dock};
  for (int i = 0; i < 200; ++i) {
    h.now += seconds(2);
    contacts(h);
    h.read(h.dock_air, 38 + 0.01 * (i % 3));
  }
  CHECK(clear(rule.all()[0]));
  for (int i = 0; i < 1790; ++i) {
    h.now += seconds(2);
    contacts(h);
    h.read(h.dock_air, 38.02);
    if (raises(rule.all()[0])) FAIL("too early");
  }
  for (int i = 0; i < 20; ++i) {
    h.now += seconds(2);
    contacts(h);
    h.read(h.dock_air, 38.02);
  }
  CHECK(std::get<Raise>(rule.all()[0]).cause.starts_with("pressure: frozen"));
}

TEST_CASE("instrument: the low-air switch is the gauge's second witness") {
  House h;
  Bench<InstrumentRule> rule{h, h.dock};
  contacts(h);
  h.read(h.dock_air, 25.1);
  CHECK(clear(rule.all()[0]));        // switch at 28: within 3 psi
  h.now += seconds(2);
  contacts(h);
  h.read(h.dock_air, 24.9);
  CHECK(std::get<Raise>(rule.all()[0]).cause == "low-air switch is silent, gauge reads 24.9 psi");

  House other;
  Bench<InstrumentRule> again{other, other.dock};
  contacts(other);
  other.read(other.dock_air, 31.1);
  other.read(other.dock_low, 1);
  CHECK(std::get<Raise>(again.all()[0]).cause == "low-air switch says low, gauge reads 31.1 psi");
}

TEST_CASE("instrument: an analyser that failed its air check") {
  House h;
  Bench<AnalyserRule> rule{h, AnalyserId{0}};
  CHECK(cannot(rule.all()[0]));
  h.read(h.cell, 1.5);
  CHECK(clear(rule.all()[0]));
  h.analysers[0].air_check_failed = true;
  CHECK(raises(rule.all()[0]));
}
