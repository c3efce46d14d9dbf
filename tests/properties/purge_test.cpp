// The main job, closed loop: four pipes full of air, one generator, one analyser.
#include <doctest/doctest.h>

#include <algorithm>

#include "room.h"

using namespace riserkeep;

TEST_CASE("purge: four pipes of air reach rested 98 %, the pressure never below the limit with a vent open") {
  const Description d = example("demo.yaml");
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed);
  Scenario scenario = demo_scenario(d.site);
  scenario.seed = seed;
  Rehearsal r(d, scenario, EngineTime{hours(1)}, WallTime{1'793'602'800'000});
  std::vector<std::optional<EngineTime>> rested(d.site.systems.size());
  r.watch([&](const Timed& t) {
    const auto* e = std::get_if<PurityEstimate>(&t.effect);
    if (!e || e->purity.grade < Grade::rested || !e->purity.oxygen) return;
    if (*e->purity.oxygen <= d.site[e->system].purity->target && !rested[e->system.index]) rested[e->system.index] = t.at;
    if (e->purity.grade >= Grade::verified_at_riser) CHECK(r.room().truth(e->system).mean_oxygen <= oxygen_percent(2.5));
  });
  for (const std::string& refusal : commission_and_purge(r)) FAIL_CHECK(refusal);
  const auto all_rested = [&] { return std::all_of(rested.begin(), rested.end(), [](const auto& t) { return t.has_value(); }); };
  for (int day = 1; day < 14 && !all_rested(); ++day) r.run_for(hours(24));
  for (std::size_t i = 0; i < d.site.systems.size(); ++i) {
    CAPTURE(d.site.systems[i].id);
    REQUIRE(rested[i].has_value());
    MESSAGE(d.site.systems[i].id << ": rested at the target after " << in_hours(*rested[i] - EngineTime{hours(1)}) / 24.0 << " d");
  }
  REQUIRE(r.lowest_margin());
  MESSAGE("lowest true pressure with a vent open: " << in_psi(r.lowest_margin()->above_limit) << " psi above the limit");
  CHECK(r.lowest_margin()->above_limit > PressureChange{});
  CHECK(r.most_vents_open() <= d.site.venting.concurrent);
}
