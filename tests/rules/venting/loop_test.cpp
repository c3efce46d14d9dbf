#include <doctest/doctest.h>

#include "rules/venting/ladder.h"
#include "small_plant.h"

using namespace riserkeep;

namespace {

SmallPlant ready() {
  SmallPlant p;
  p.run(minutes(11));
  REQUIRE(p.commission() == "");
  REQUIRE(p.run_until([&] { return p.vent().commissioning.done; }, hours(2)));
  return p;
}

SmallPlant open_vent() {
  SmallPlant p = ready();
  REQUIRE(p.purge() == "");
  REQUIRE(p.run_until([&] { return p.vent().phase == VentPhase::venting; }, hours(3)));
  return p;
}

}  // namespace

TEST_CASE("commissioning refuses a gauge that disagrees and an early start") {
  SmallPlant p;
  p.run(minutes(1));
  CHECK(p.commission().find("start") != std::string::npos);
  p.run(minutes(11));
  Effects out;
  std::string why;
  CHECK_FALSE(p.venting.commission(p.view(), {SystemId{0}, true, 30.0}, "A. Fitter", out, why));
  CHECK(why.find("gauge") != std::string::npos);
  CHECK(p.purge().find("not commissioned") != std::string::npos);
}

TEST_CASE("commissioning learns the rate of the vent") {
  const SmallPlant p = ready();
  CHECK(p.vent().commissioning.fall_share_per_s == doctest::Approx(SmallPlant::kK).epsilon(0.03));
  CHECK(p.vent().commissioning.by == "A. Fitter");
}

TEST_CASE("a purge from air rests at the target with no pressure below the limit") {
  SmallPlant p = open_vent();
  const bool rests = p.run_until([&] { return p.vent().stage == PurgeStage::resting_first; }, hours(72));
  CAPTURE(explain_headline(p.view(), SystemId{0}));
  CAPTURE(p.vent().ledger.mean());
  CAPTURE(p.pipes[0].oxygen());
  CHECK(rests);
  CHECK(p.pipes[0].oxygen() < 0.02);
  CHECK(p.vent().ledger.mean() == doctest::Approx(p.pipes[0].oxygen()).epsilon(0.2));
  CHECK(psig(p.lowest_open_psi) > ladder(p.site, SystemId{0}, SmallPlant::kK, psig(35)).limit);
  CHECK(p.run_until([&] { return p.vent().stage == PurgeStage::verified; }, hours(80)));
  CHECK(p.vent().purity.grade == Grade::verified_at_far_end);
  CHECK(p.vent().mode == Mode::keep);
  // Order numbers grow with every order.
  std::uint64_t last = 0;
  for (const Timed& t : p.log)
    if (const auto* o = std::get_if<OutputOrder>(&t.effect)) {
      CHECK(static_cast<std::uint64_t>(o->order) > last);
      last = static_cast<std::uint64_t>(o->order);
      if (o->open) CHECK(o->lease_until > t.at);
    }
}

TEST_CASE("a vent that empties the neighbour is not commissioned") {
  SmallPlant p(2);
  p.vents_crossed = true;
  p.run(minutes(12));
  REQUIRE(p.commission() == "");
  CHECK(p.run_until([&] { return p.vent().phase == VentPhase::closing; }, minutes(2)));
  CHECK_FALSE(p.vent().commissioning.done);
  CHECK(p.vent().commissioning.voided_why.find("crossed") != std::string::npos);
  CHECK(p.psi_of(1) > 39);
}

TEST_CASE("a riser vent shuts when the refill begins and then rests for the gas to mix") {
  SmallPlant p;
  p.site.systems[0].vent->tap = Tap::riser;
  p.run(minutes(12));
  REQUIRE(p.commission() == "");
  REQUIRE(p.run_until([&] { return p.vent().commissioning.done; }, hours(2)));
  REQUIRE(p.purge() == "");
  REQUIRE(p.run_until([&] { return p.vent().phase == VentPhase::venting; }, hours(3)));
  REQUIRE(p.run_until([&] { return p.vent().phase == VentPhase::closing; }, hours(1)));
  CHECK(p.vent().follow.close_why == "the refill has begun");
  REQUIRE(p.run_until([&] { return p.vent().phase == VentPhase::idle; }, hours(1)));
  CHECK(p.vent().dwell == minutes(30));   // well mixed gas halves it
  CHECK(*p.vent().earliest_next > p.now);
  const bool rests = p.run_until([&] { return p.vent().stage == PurgeStage::resting_first; }, hours(96));
  CAPTURE(explain_headline(p.view(), SystemId{0}));
  CAPTURE(p.vent().ledger.mean());
  CAPTURE(p.vent().ledger.upper());
  CAPTURE(p.vent().openings.size());
  CHECK(rests);
  CHECK(p.pipes[0].oxygen() < 0.02);
}

TEST_CASE("a bad reading closes in the same step") {
  SmallPlant p = open_vent();
  p.run(seconds(20));
  REQUIRE(p.commanded(OutputId{0}));
  p.pressure_bad = true;
  p.now += seconds(1);
  p.read(p.site.systems[0].pressure, 38, 1000, Quality::bad);
  CHECK_FALSE(p.commanded(OutputId{0}));
}

TEST_CASE("silence of the transducer closes within three polls") {
  SmallPlant p = open_vent();
  p.run(seconds(20));
  for (int i = 0; i < 7; ++i) {
    p.now += seconds(1);
    Effects out;
    p.venting.tick(p.view(), p.twins, out);
    p.answer(out);
  }
  CHECK_FALSE(p.commanded(OutputId{0}));
}

TEST_CASE("a blocked vent is called within the effect deadline") {
  SmallPlant p = ready();
  p.pipes[0].blocked = 0;
  REQUIRE(p.purge() == "");
  REQUIRE(p.run_until([&] { return p.vent().phase == VentPhase::venting; }, hours(3)));
  const EngineTime open = p.now;
  CHECK(p.run_until([&] { return p.vent().findings.blocked.has_value(); }, p.site.venting.effect_deadline + seconds(30)));
  CHECK_FALSE(p.commanded(OutputId{0}));
  CHECK(p.now - open < minutes(6));
  CHECK(p.vent().locked);
}

TEST_CASE("a vent stuck open is called and locks the supply") {
  SmallPlant p = open_vent();
  p.pipes[0].stuck = 1;
  CHECK(p.run_until([&] { return p.vent().findings.stuck_open.has_value(); }, hours(6)));
  CHECK(p.vent().locked);
  CHECK(explain_headline(p.view(), SystemId{0}).find("locked") != std::string::npos);
}

TEST_CASE("a restart shuts everything and nothing resumes for ten minutes") {
  SmallPlant p = open_vent();
  p.run(seconds(20));
  Effects out;
  p.started = p.now;
  p.venting.resumed(p.view(), out);
  p.answer(out);
  CHECK_FALSE(p.commanded(OutputId{0}));
  CHECK_FALSE(p.run_until([&] { return p.commanded(OutputId{0}); }, minutes(10)));
}

TEST_CASE("a sample that failed before a restart is taken soon after it") {
  SmallPlant p = ready();
  REQUIRE(p.purge() == "");
  const auto job = [&] { return p.venting.state().analysers[0].job; };
  const auto sampling = [&] { return job() == SampleJob::feed || job() == SampleJob::air; };
  REQUIRE(p.run_until(sampling, hours(30)));
  p.analyser_dead = true;
  REQUIRE(p.run_until([&] { return job() == SampleJob::none; }, minutes(20)));
  p.analyser_dead = false;
  CHECK_FALSE(p.run_until(sampling, minutes(20)));
  Effects out;
  p.started = p.now;
  p.venting.resumed(p.view(), out);
  p.answer(out);
  CHECK(p.run_until(sampling, minutes(20)));
}

TEST_CASE("state kept and restored in the middle of a venting decides the same") {
  SmallPlant p = open_vent();
  p.run(minutes(1));
  Archive save = Archive::saving();
  save.section(1, 1, p.venting);
  Archive load = Archive::loading(std::move(save).take());
  SmallPlant q = p;
  q.venting = Venting(q.site);
  REQUIRE(load.section(1, 1, q.venting));
  p.log.clear();
  q.log.clear();
  p.run(hours(3));
  q.run(hours(3));
  REQUIRE(p.log.size() == q.log.size());
  CHECK(p.vent().ledger.mean() == q.vent().ledger.mean());
  CHECK(p.venting.state().next_order == q.venting.state().next_order);
}
