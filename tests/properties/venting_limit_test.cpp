// The promise of the vent decision under random faults: with a vent open no true pressure is ever below
// LIMIT, and never more vents are open than the supply feeds.
#include <doctest/doctest.h>

#include <set>

#include "room.h"

using namespace riserkeep;

namespace {

Fault random_fault(const Site& site, std::mt19937_64& random) {
  const auto upto = [&](std::size_t n) { return static_cast<std::uint16_t>(random() % n); };
  const SystemId system{upto(site.systems.size())};
  switch (random() % 11) {
    case 0: return {FaultKind::leak, system, 2.0 + static_cast<double>(random() % 60)};
    case 1: return {FaultKind::vent_stuck, system, 0};
    case 2: return {FaultKind::vent_blocked, system, 50.0 + static_cast<double>(random() % 51)};
    case 3: return {FaultKind::gauge_frozen, system, 0};
    case 4: return {FaultKind::gauge_dead, system, 0};
    case 5: return {FaultKind::dead, SupplyId{upto(site.supplies.size())}, 0};
    case 6: return {FaultKind::impure, SupplyId{upto(site.supplies.size())}, 3.0 + static_cast<double>(random() % 10)};
    case 7: return {FaultKind::dead, AnalyserId{upto(site.analysers.size())}, 0};
    case 8: return {FaultKind::frozen, AnalyserId{upto(site.analysers.size())}, 0};
    case 9: return {FaultKind::silent, LinkId{upto(site.links.size())}, 0};
    default: return {FaultKind::waterflow, system, 0};
  }
}

// Orders seen from outside: numbers grow per output, an opening always has a lease and an end.
struct OrderWatch {
  std::map<OutputId, OrderNo> newest;
  int opened = 0;
  void take(const Timed& t) {
    const auto* o = std::get_if<OutputOrder>(&t.effect);
    if (!o) return;
    CHECK(newest[o->output] <= o->order);
    newest[o->output] = o->order;
    if (!o->open) return;
    CHECK(o->lease_until > t.at);
    CHECK(o->not_after >= t.at);
    if (!o->renewal) ++opened;
  }
};

}  // namespace

TEST_CASE("venting under random faults: true pressure stays above the limit, 10^6 engine steps and more") {
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed << " (set RISERKEEP_SEED to repeat)");
  std::mt19937_64 random{seed};
  const Description d = example("demo.yaml");
  std::uint64_t steps = 0;
  int opened = 0;
  for (int round = 0; round < 4; ++round) {
    Scenario scenario = demo_scenario(d.site);
    scenario.seed = random();
    scenario.valves_trip = false;
    Rehearsal r(d, scenario, EngineTime{hours(1)}, WallTime{1'793'602'800'000});
    OrderWatch orders;
    r.watch([&](const Timed& t) { orders.take(t); });
    commission_and_purge(r);
    for (int i = 0; i < 60; ++i) {
      r.run_for(minutes(20 + static_cast<int>(random() % 100)));
      if (random() % 3 == 0) r.room().clear_all();
      const Fault fault = random_fault(d.site, random);
      CAPTURE(fault_text(d.site, fault));
      r.room().inject(fault);
      if (fault.kind == FaultKind::silent) r.feed(LinkChanged{LinkId{fault.place.index}, false});
    }
    if (r.lowest_margin()) {
      CAPTURE(round);
      CAPTURE(place_name(d.site, r.lowest_margin()->system));
      CHECK(r.lowest_margin()->above_limit >= PressureChange{});
    }
    CHECK(r.most_vents_open() <= d.site.venting.concurrent);
    steps += r.steps();
    opened += orders.opened;
  }
  MESSAGE(steps << " engine steps, " << opened << " openings of vents and ports");
  CHECK(steps >= 1'000'000);
  CHECK(opened > 20);
}
