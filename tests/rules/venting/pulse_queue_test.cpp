// Commissionings that wait for the turn, or for a fuller pipe; and what the ledger keeps from the pulse on.
#include <doctest/doctest.h>

#include "rules/venting/explain.h"
#include "small_plant.h"

using namespace riserkeep;

namespace {

const SystemId kFirst{0}, kSecond{1};
constexpr double kSeen = 0.001;   // the beginning of a refill is seen to about 0.1 psi: 0.1 % O2 in air

void set_pressure(SmallPlant& p, std::size_t i, double psi) {
  const double n = (SmallPlant::kOut + psi * kPascalPerPsi) * SmallPlant::kVolume / (SmallPlant::kR * SmallPlant::kT);
  p.pipes[i].o2 = 0.2095 * n;
  p.pipes[i].n2 = n - p.pipes[i].o2;
}

// Two pipes, the first commissioned and venting.
SmallPlant busy_plant() {
  SmallPlant p(2);
  p.run(minutes(12));
  REQUIRE(p.commission(0) == "");
  REQUIRE(p.run_until([&] { return p.vent(0).commissioning.done; }, hours(2)));
  REQUIRE(p.purge(0) == "");
  REQUIRE(p.run_until([&] { return p.vent(0).phase == VentPhase::venting; }, hours(3)));
  return p;
}

bool said(const SmallPlant& p, std::string_view words) {
  for (const Timed& t : p.log)
    if (const auto* n = std::get_if<Note>(&t.effect); n && n->text.find(words) != std::string::npos) return true;
  return false;
}

}  // namespace

TEST_CASE("a commissioning asked for while another vents starts at the next free turn") {
  SmallPlant p = busy_plant();
  REQUIRE(p.commission(1) == "");
  REQUIRE(p.vent(1).pulse_asked);
  CHECK(p.vent(1).pulse_asked->by == "A. Fitter");
  CHECK(explain_headline(p.view(), kSecond).find("starts at the next free turn (turn, 1 other") != std::string::npos);
  CHECK_FALSE(p.commanded(p.site.systems[1].vent->output));
  const std::size_t openings = p.vent(0).openings.size();
  REQUIRE(p.run_until([&] { return p.vent(1).phase == VentPhase::pulsing; }, hours(2)));
  CHECK(p.vent(0).openings.size() == openings);   // the other did not vent again before
  CHECK(p.vent(0).phase == VentPhase::idle);
  CHECK_FALSE(p.vent(1).pulse_asked);
  CHECK(p.run_until([&] { return p.vent(1).commissioning.done; }, hours(2)));
  CHECK(p.run_until([&] { return p.vent(0).openings.size() > openings; }, hours(3)));
}

TEST_CASE("what is more than the turn is refused at once") {
  SmallPlant p = busy_plant();
  p.channels.take(Reading{p.site.systems[1].pressure, p.now, {}, Quality::bad, Why::none});
  const std::string why = p.commission(1);
  CHECK(why.find("pressure") != std::string::npos);
  CHECK_FALSE(p.vent(1).pulse_asked);
}

TEST_CASE("a waiting commissioning is dropped by the mode, a lock and a restart") {
  const SmallPlant busy = busy_plant();
  Effects out;
  std::string why;
  SUBCASE("mode") {
    SmallPlant p = busy;
    REQUIRE(p.commission(1) == "");
    p.venting.set_mode(p.view(), kSecond, Mode::watch, "A. Fitter", out, why);
    CHECK_FALSE(p.vent(1).pulse_asked);
  }
  SUBCASE("lock") {
    SmallPlant p = busy;
    REQUIRE(p.commission(1) == "");
    p.venting.lock(p.view(), {kSecond, true, "work"}, "A. Fitter", out, why);
    CHECK_FALSE(p.vent(1).pulse_asked);
  }
  SUBCASE("restart") {
    SmallPlant p = busy;
    REQUIRE(p.commission(1) == "");
    p.venting.resumed(p.view(), out);
    CHECK_FALSE(p.vent(1).pulse_asked);
  }
}

TEST_CASE("a commissioning waits two hours at most") {
  SmallPlant p = busy_plant();
  REQUIRE(p.commission(1) == "");
  p.pressure_bad = true;
  p.run(hours(2) + minutes(1));
  CHECK_FALSE(p.vent(1).pulse_asked);
  CHECK_FALSE(p.vent(1).commissioning.done);
  CHECK(said(p, "no free turn within 2 h"));
}

TEST_CASE("a waiting commissioning survives being kept and restored") {
  SmallPlant p = busy_plant();
  REQUIRE(p.commission(1) == "");
  Archive save = Archive::saving();
  save.section(1, 1, p.venting);
  Archive load = Archive::loading(std::move(save).take());
  p.venting = Venting(p.site);
  REQUIRE(load.section(1, 1, p.venting));
  REQUIRE(p.vent(1).pulse_asked);
  CHECK(p.run_until([&] { return p.vent(1).commissioning.done; }, hours(3)));
}

TEST_CASE("a pulse that the feed spoils is repeated from the fuller pipe") {
  SmallPlant p;
  set_pressure(p, 0, 35.3);
  p.run(minutes(12));
  REQUIRE(p.commission() == "");
  REQUIRE(p.run_until([&] { return p.vent().pulse_asked.has_value(); }, minutes(10)));
  CHECK(p.vent().pulse_asked->tries == 1);
  CHECK(explain_headline(p.view(), kFirst).find("shut") != std::string::npos);   // first proved shut and filled
  REQUIRE(p.run_until([&] { return p.vent().commissioning.done; }, hours(2)));
  CHECK(p.vent().openings.size() == 2);
  CHECK(p.vent().commissioning.fall_share_per_s == doctest::Approx(SmallPlant::kK).epsilon(0.05));
}

TEST_CASE("from the pulse on the refills count, once the feed has been sampled in watch") {
  SmallPlant p;
  set_pressure(p, 0, 36.5);   // the pulse brings it to the cut-in
  p.run(minutes(12));
  REQUIRE(p.commission() == "");
  REQUIRE(p.run_until([&] { return p.vent().commissioning.done; }, hours(2)));
  const double truth = p.pipes[0].oxygen();
  REQUIRE(truth < 0.195);
  SUBCASE("sampled: the purge begins with what is known") {
    p.run(hours(1));
    CHECK(p.vent().mode == Mode::watch);
    CHECK(p.venting.state().supplies[0].oxygen.has_value());
    CHECK(p.venting.state().analysers[0].air_checked.has_value());
    REQUIRE(p.purge() == "");
    CHECK(p.vent().ledger.mean() == doctest::Approx(truth).epsilon(0.005));
    CHECK(p.vent().ledger.mean() >= truth - kSeen);
    CHECK(p.vent().ledger.lower() <= truth + kSeen);
  }
  SUBCASE("a restart in watch breaks it: air at most, but no less is known from below") {
    p.run(hours(1));
    Effects out;
    p.venting.resumed(p.view(), out);
    p.answer(out);
    REQUIRE(p.purge() == "");
    CHECK(p.vent().ledger.mean() == doctest::Approx(0.2095));
    CHECK(p.vent().ledger.lower() <= truth + kSeen);
  }
  SUBCASE("after a day in watch it is too old") {
    p.run(hours(25));
    REQUIRE(p.purge() == "");
    CHECK(p.vent().ledger.mean() == doctest::Approx(0.2095));
  }
}

TEST_CASE("a feed that cannot be sampled lowers nothing") {
  SmallPlant p;
  set_pressure(p, 0, 36.5);
  p.run(minutes(12));
  REQUIRE(p.commission() == "");
  p.analyser_dead = true;
  REQUIRE(p.run_until([&] { return p.vent().commissioning.done; }, hours(2)));
  p.run(hours(3));
  REQUIRE(p.purge() == "");
  CHECK(p.vent().ledger.mean() == doctest::Approx(0.2095));
  CHECK(p.vent().ledger.lower() < p.pipes[0].oxygen() + kSeen);
}
