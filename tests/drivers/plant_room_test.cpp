#include "drivers/plant/room.h"

#include <doctest/doctest.h>

#include <chrono>
#include <cmath>
#include <ctime>

#include "plant_fixture.h"

using namespace riserkeep;
using plant_test::system_no;

namespace {
double psi_of(const SimulatedRoom& room, int i) { return in_psi(room.truth(system_no(i)).pressure); }

Fault fault(const Site& site, std::string_view text) {
  const auto parsed = parse_fault(site, text);
  const auto* f = std::get_if<Fault>(&parsed);
  REQUIRE_MESSAGE(f, std::get<std::string>(parsed));
  return *f;
}
}  // namespace

TEST_CASE("plant room: a tight still pipe keeps its pressure") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.advance(hours(24));
  CHECK(psi_of(room, 0) == doctest::Approx(40.0).epsilon(1e-9));
  CHECK(room.now() == EngineTime{hours(24)});
}

TEST_CASE("plant room: a stated leak loses what it states, NFPA 13-2019 28.2.2.1 figure of 1.5 psi in 24 h") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[0].leak = psi_per_day(1.5);
  s.systems[0].wall_mean = celsius(21);
  s.systems[0].initial_oxygen = OxygenFraction{};
  SimulatedRoom room(b.site, s);
  room.advance(hours(24));
  CHECK(psi_of(room, 0) == doctest::Approx(38.5).epsilon(1e-4));
  CHECK(in_psi_per_day(room.truth(system_no(0)).leak) == doctest::Approx(1.5));
}

TEST_CASE("plant room: gauge pressure of a shut pipe, 40 psi at 70 F to 36.902071 psi at 40 F") {
  // Constant gas and volume, p2 = p1 T2 / T1 absolute, 14.696 psi atmosphere.
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.start_hour = 9;  // the wall is at its mean
  s.systems[0].wall_mean = fahrenheit(70);
  s.systems[0].daily_swing = TemperatureChange::from_si(30.0 / 1.8);
  s.systems[0].wall_lag_hours = 0;
  SimulatedRoom room(b.site, s);
  room.inject(fault(b.site, "east-nitrogen dead"));
  room.advance(hours(18));  // 03:00, the coldest
  CHECK(psi_of(room, 0) == doctest::Approx(36.902071).epsilon(1e-5));
}

TEST_CASE("plant room: refill starts at the true cut-in and ends at the true cut-out") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[0].cut_in_error = psi(-0.7);
  s.systems[0].cut_out_error = psi(0.4);
  s.systems[0].initial_fill = 0.95;
  SimulatedRoom room(b.site, s);
  room.set_output(b.vent[0], true);
  while (!room.truth(system_no(0)).refilling && room.now() < EngineTime{hours(2)}) room.advance(seconds(1));
  CHECK(psi_of(room, 0) == doctest::Approx(34.3).epsilon(1e-3));
  room.set_output(b.vent[0], false);
  while (room.truth(system_no(0)).refilling && room.now() < EngineTime{hours(4)}) room.advance(seconds(1));
  CHECK(psi_of(room, 0) == doctest::Approx(40.4).epsilon(1e-3));
  CHECK(room.truth(system_no(0)).refills == 1);
  room.advance(hours(1));
  CHECK(room.truth(system_no(0)).refills == 1);
}

TEST_CASE("plant room: two systems that refill at once share the supply") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[0].initial_fill = s.systems[1].initial_fill = 0;
  SimulatedRoom both(b.site, s);
  both.advance(minutes(5));
  const double shared = both.truth(system_no(0)).fed.si();
  CHECK(shared == doctest::Approx(0.03 * 300).epsilon(1e-6));
  CHECK(both.truth(system_no(1)).fed.si() == doctest::Approx(shared));
  s.systems[1].initial_fill = 1;
  SimulatedRoom alone(b.site, s);
  alone.advance(minutes(5));
  CHECK(alone.truth(system_no(0)).fed.si() == doctest::Approx(0.06 * 300).epsilon(1e-6));
  CHECK(alone.truth(system_no(1)).fed.si() == 0.0);
}

TEST_CASE("plant room: gas and oxygen balance over a purge with leak, sampling, weather and sharing") {
  const auto b = plant_test::bench();
  Scenario s = default_scenario(b.site, 77);
  SimulatedRoom room(b.site, s);
  const Truth before = room.truth(system_no(1));
  for (int day = 0; day < 2; ++day) {
    room.set_output(b.vent[1], true);
    room.set_output(b.port[1], true);
    room.advance(hours(6));
    room.set_output(b.vent[1], false);
    room.set_output(b.port[1], false);
    room.advance(hours(18));
  }
  const Truth t = room.truth(system_no(1));
  CHECK(t.vented.si() > 100);
  CHECK(t.sampled.si() > 1);
  const double gas = before.contents.si() + t.fed.si() - t.vented.si() - t.leaked.si() - t.sampled.si();
  const double oxygen =
      before.oxygen.si() + t.fed_oxygen.si() - t.vented_oxygen.si() - t.leaked_oxygen.si() - t.sampled_oxygen.si();
  CHECK(t.contents.si() == doctest::Approx(gas).epsilon(1e-9));
  CHECK(std::abs(t.oxygen.si() - oxygen) < 1e-9 * before.oxygen.si());
  CHECK(t.mean_oxygen.percent() < 5.0);
}

TEST_CASE("plant room: however time is cut into calls, the room is the same") {
  const auto b = plant_test::bench();
  const Scenario s = default_scenario(b.site, 3);
  SimulatedRoom whole(b.site, s), pieces(b.site, s);
  for (SimulatedRoom* r : {&whole, &pieces}) r->set_output(b.vent[0], true);
  whole.advance(hours(1));
  for (int i = 0; i < 3600 * 1000 / 250; ++i) pieces.advance(milliseconds(250)), (void)pieces.signal(b.pressure[0]);
  CHECK(whole.signal(b.pressure[0]) == pieces.signal(b.pressure[0]));
  CHECK(whole.truth(system_no(0)).oxygen == pieces.truth(system_no(0)).oxygen);
}

TEST_CASE("plant room: the analyser sees the sample after the line, 90 % of a step by T90 after it") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  CHECK(*room.signal(b.oxygen) == doctest::Approx(20.946));
  room.set_output(b.supply_port, true);
  room.advance(seconds(20));
  CHECK(*room.signal(b.oxygen) == doctest::Approx(20.946).epsilon(1e-3));  // still the gas of the line
  room.advance(minutes(8) - seconds(20));  // 5 line volumes of 90 s and 3 x T90 of 30 s, less a minute
  CHECK(*room.signal(b.oxygen) == doctest::Approx(0.5).epsilon(0.02));
  room.set_output(b.supply_port, false);
  const double held = *room.signal(b.oxygen);
  room.advance(hours(1));
  CHECK(*room.signal(b.oxygen) == doctest::Approx(held).epsilon(1e-2));
}

TEST_CASE("plant room: without ports an analyser is fed while its system vents") {
  auto b = plant_test::bench();
  b.site.analysers[0].ports.clear();
  Scenario s = plant_test::still(b.site);
  for (auto& t : s.systems) t.initial_oxygen = oxygen_percent(3);
  SimulatedRoom room(b.site, s);
  room.advance(minutes(30));
  CHECK(*room.signal(b.oxygen) == doctest::Approx(20.946));
  room.set_output(b.vent[0], true);
  room.advance(minutes(10));
  CHECK(*room.signal(b.oxygen) == doctest::Approx(3.0).epsilon(0.02));
}

TEST_CASE("plant room: a dry valve below its trip pressure opens and water stands in the pipe") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.inject(fault(b.site, "east-nitrogen dead"));
  room.inject(fault(b.site, "south-hall sprinkler open"));
  CHECK(*room.signal(b.low_air[1]) == 0.0);
  bool low_seen = false;
  while (!room.truth(system_no(1)).operated && room.now() < EngineTime{minutes(10)}) {
    room.advance(seconds(1));
    low_seen = low_seen || *room.signal(b.low_air[1]) == 1.0;
  }
  CHECK(room.truth(system_no(1)).operated);
  CHECK(low_seen);
  room.advance(seconds(15));
  CHECK(*room.signal(b.waterflow[1]) == 1.0);
  CHECK(psi_of(room, 1) < 5.0);
  room.advance(minutes(10));
  CHECK(psi_of(room, 1) == doctest::Approx(100.0).epsilon(0.01));
  CHECK_FALSE(room.truth(system_no(0)).operated);
  room.clear_all();
  room.reset_valve(system_no(1));
  CHECK(psi_of(room, 1) == doctest::Approx(40.0).epsilon(0.01));
  CHECK(*room.signal(b.waterflow[1]) == 0.0);
}

TEST_CASE("plant room: noise is repeatable, white and as large as stated") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[0].gauge_noise = psi(0.05);
  SimulatedRoom room(b.site, s);
  double sum = 0, squares = 0, lagged = 0, last = 0;
  const int n = 20000;
  for (int i = 0; i < n; ++i) {
    room.advance(seconds(1));
    const double e = *room.signal(b.pressure[0]) - 40.0;
    CHECK(room.signal(b.pressure[0]) == room.signal(b.pressure[0]));
    sum += e, squares += e * e, lagged += e * last, last = e;
  }
  CHECK(std::abs(sum / n) < 4 * 0.05 / std::sqrt(double(n)));
  CHECK(std::sqrt(squares / n) == doctest::Approx(0.05).epsilon(0.03));
  CHECK(std::abs(lagged / squares) < 4 / std::sqrt(double(n)));
}

TEST_CASE("plant room: CPU time of 14 simulated days of four systems") {
  auto b = plant_test::bench();
  for (int i = 0; i < 2; ++i) b.site.systems.push_back(b.site.systems[static_cast<std::size_t>(i)]);
  Scenario s = default_scenario(b.site, 9);
  s.cells = 20;
  SimulatedRoom room(b.site, s);
  const int days_run = 2;  // a sample: the rest is the same again
  const std::clock_t start = std::clock();
  room.advance(days(days_run));
  const double cpu = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC * 14.0 / days_run;
  MESSAGE("14 days of four systems, 1 s steps, 20 cells: " << cpu << " s CPU");
  CHECK(cpu < 300);
}
