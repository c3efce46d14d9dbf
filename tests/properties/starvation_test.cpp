// Nobody waits for ever: a system that wants the vent and is refused for nothing but the turn gets it within
// the starvation limit and the turns of those before it.
#include <doctest/doctest.h>

#include <algorithm>

#include "room.h"
#include "rules/venting/planner.h"

using namespace riserkeep;

namespace {

constexpr Duration kStarved = hours(3);
constexpr Duration kTurn = minutes(60) + minutes(60);   // the longest venting; refill, settling, samples

bool wants(const SiteView& v, SystemId id) {
  const VentState& s = v.vent(id);
  return s.mode != Mode::watch && s.stage == PurgeStage::venting && s.phase == VentPhase::idle && !s.locked &&
         (!s.earliest_next || v.now >= *s.earliest_next);
}

bool refused_for_the_turn_only(const SiteView& v, SystemId id) {
  const auto refusals = permit(v, id, false).refusals();
  return std::all_of(refusals.begin(), refusals.end(), [](const Refusal& r) { return r.what == "turn" || r.what == "refill"; });
}

// A crowded room: no rest between ventings, some taps at the far end, very unlike rates.
Description crowded(std::mt19937_64& random) {
  Description d = example("demo.yaml");
  d.site.venting.starvation = kStarved;
  d.site.venting.dwell_shortest = d.site.venting.dwell = d.site.venting.dwell_longest = minutes(1);
  for (System& s : d.site.systems) {
    s.vent->tap = random() % 3 == 0 ? Tap::riser : Tap::far_end;
    s.vent->bore = millimetres(0.6 + 0.1 * static_cast<double>(random() % 5));
  }
  return d;
}

}  // namespace

TEST_CASE("starvation: who is permitted vents within the limit, however little it is worth") {
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  Duration longest{};
  int went_first = 0;
  for (int round = 0; round < 3; ++round) {
    const Description d = crowded(random);
    Scenario scenario = default_scenario(d.site, random());
    for (SupplyTruth& s : scenario.supplies) s.oxygen = oxygen_percent(0.6);
    Rehearsal r(d, scenario, EngineTime{hours(1)}, WallTime{1'793'602'800'000});
    commission_and_purge(r);
    std::vector<std::optional<EngineTime>> since(d.site.systems.size());
    for (const EngineTime end = r.now() + hours(40); r.now() < end; r.run_for(seconds(30))) {
      const SiteView v = r.engine().view();
      for (std::size_t i = 0; i < since.size(); ++i) {
        const SystemId id{static_cast<std::uint16_t>(i)};
        if (!wants(v, id) || !refused_for_the_turn_only(v, id)) {
          if (since[i] && r.now() - *since[i] > kStarved && v.vent(id).phase != VentPhase::idle) ++went_first;
          since[i].reset();
          continue;
        }
        if (!since[i]) since[i] = r.now();
        longest = std::max(longest, r.now() - *since[i]);
      }
    }
  }
  MESSAGE("longest wait " << in_hours(longest) << " h; " << went_first << " went first because they had waited");
  CHECK(longest <= kStarved + static_cast<int>(example("demo.yaml").site.systems.size()) * kTurn);
  CHECK(longest > minutes(30));   // the room was crowded
}
