#include <doctest/doctest.h>

#include <algorithm>
#include <functional>

#include "rules/venting/planner.h"
#include "small_plant.h"

using namespace riserkeep;

namespace {

// What a permit looks at, each part open to change.
struct Scene {
  SmallPlant plant{2};
  VentingState state;
  EngineTime started;
  Scene() : state(plant.site), started(plant.started) {
    plant.run(minutes(12));
    state = plant.venting.state();
    for (VentState& v : state.vents) {
      v.mode = Mode::purge;
      v.stage = PurgeStage::venting;
      v.commissioning.done = true;
      v.commissioning.by = "A. Fitter";
      v.commissioning.fall_share_per_s = SmallPlant::kK;
    }
    state.supplies[0].oxygen = oxygen_percent(0.5);
    state.supplies[0].oxygen_at = plant.now;
    state.analysers[0].air_checked = plant.now;
  }
  SiteView view() const {
    return {plant.site, plant.now, started, plant.channels, plant.twins, state.vents, state.outputs, state.supplies,
            state.analysers, plant.links, plant.box, plant.alarms};
  }
  std::vector<Refusal> refusals() const { return permit(view(), SystemId{0}, false).refusals(); }
};

void refused_alone(std::string_view what, const std::function<void(Scene&)>& change) {
  Scene s;
  REQUIRE(s.refusals().empty());
  change(s);
  const auto r = s.refusals();
  CAPTURE(what);
  REQUIRE(r.size() == 1);
  CHECK(r[0].what == what);
  CHECK_FALSE(r[0].now.empty());
  CHECK_FALSE(r[0].needs.empty());
}

}  // namespace

TEST_CASE("each reason refuses a venting alone and says what it needs") {
  refused_alone("mode", [](Scene& s) { s.state.vents[0].mode = Mode::watch; });
  refused_alone("commissioned", [](Scene& s) { s.state.vents[0].commissioning.done = false; });
  refused_alone("lock", [](Scene& s) { s.state.vents[0].locked = true; s.state.vents[0].locked_why = "work on the branch"; });
  refused_alone("start", [](Scene& s) { s.started = s.plant.now - minutes(9); });
  refused_alone("feed oxygen", [](Scene& s) { s.state.supplies[0].oxygen = oxygen_percent(1.6); });
  refused_alone("feed oxygen", [](Scene& s) { s.state.supplies[0].oxygen_at = s.plant.now - hours(25); });
  refused_alone("air check", [](Scene& s) { s.state.analysers[0].air_check_failed = true; });
  refused_alone("turn", [](Scene& s) { s.state.vents[1].phase = VentPhase::venting; });
  refused_alone("ventings", [](Scene& s) { s.state.vents[0].openings.assign(24, s.plant.now - hours(1)); });
  refused_alone("open time", [](Scene& s) { s.state.vents[0].open_time_today = hours(12); });
  refused_alone("vent", [](Scene& s) { s.state.outputs[s.plant.site.systems[0].vent->output.index].state = OutputState::unknown; });
  refused_alone("air", [](Scene& s) { s.plant.read(s.plant.site.systems[0].pressure, 33.6, 1000); });
  refused_alone("neighbours", [](Scene& s) { s.plant.read(s.plant.site.systems[1].pressure, 33.6, 1000); });
  refused_alone("pressure", [](Scene& s) {
    s.plant.now += seconds(1);
    s.plant.read(s.plant.site.systems[0].pressure, 39.0, 1000, Quality::uncertain);
  });
}

TEST_CASE("an open vent may go on with a feed that would not let it begin") {
  Scene s;
  s.state.supplies[0].oxygen = oxygen_percent(1.6);
  CHECK(permit(s.view(), SystemId{0}, true).permitted());
  s.state.supplies[0].oxygen = oxygen_percent(1.75);
  CHECK_FALSE(permit(s.view(), SystemId{0}, true).permitted());
}

TEST_CASE("a passing permit shows every check with what it found") {
  const Scene s;
  const Permit p = permit(s.view(), SystemId{0}, false);
  CHECK(p.permitted());
  CHECK(p.checks.size() >= 14);
  CHECK(std::none_of(p.checks.begin(), p.checks.end(), [](const Check& c) { return c.now.empty(); }));
}

TEST_CASE("the turn goes by worth over time and a starved system goes first") {
  // Smith 1956: sequencing by weight over processing time minimises the weighted sum of completion times.
  Scene s;
  const std::vector<SystemId> both{SystemId{0}, SystemId{1}};
  s.state.vents[0].follow.last_y = 0.05;
  s.state.vents[1].follow.last_y = 0.10;
  CHECK(next(s.view(), both) == SystemId{1});
  CHECK(worth(s.view(), SystemId{1}) / worth(s.view(), SystemId{0}) == doctest::Approx((0.10 - 0.005) / (0.05 - 0.005)).epsilon(0.02));
  s.state.vents[0].waits_since = s.plant.now - hours(49);
  CHECK(next(s.view(), both) == SystemId{0});
  CHECK_FALSE(next(s.view(), {}).has_value());
}
