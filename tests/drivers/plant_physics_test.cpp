#include "drivers/plant/physics.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>

#include "drivers/plant/pipe.h"
#include "drivers/plant/riser.h"

using namespace riserkeep;
using namespace riserkeep::plant;

namespace {
constexpr double kPsi = 6894.757293168361, kAtmosphere = 101325.0;
double hole(double millimetre) { return std::numbers::pi / 4.0 * millimetre * millimetre * 1e-6; }

// The blowdown case of the checks below: 2 m3 of nitrogen at 20 C and 40 psi gauge, ideal 1 mm hole.
double blown_down(double gas_lag, double after) {
  System s;
  s.vent.emplace();
  s.vent->bore = millimetres(1.0);
  s.vent->discharge = 1.0;
  s.air = {psig(35), psig(40), false};
  SystemTruth t;
  t.volume = Volume::from_si(2.0);
  t.leak = PressureRate{};
  t.initial_oxygen = OxygenFraction{};
  t.initial_fill = 1;
  t.wall_mean = celsius(20);
  t.gas_lag_seconds = gas_lag;
  t.vent_discharge = 1;
  Scenario room;
  room.valves_trip = false;
  Riser r(s, room, t, kAtmosphere, 0);
  RiserStep in;
  in.seconds = 0.5;
  in.atmosphere = kAtmosphere;
  in.outside = 293.15;
  in.vent_commanded = true;
  for (double now = 0; now < after - 0.25; now += in.seconds) r.step(in);
  return r.gauge(kAtmosphere) + kAtmosphere;
}
}  // namespace

TEST_CASE("plant physics: critical ratio and flow coefficient, ISO 9300 and isentropic tables") {
  struct Row {
    double gamma, ratio, coefficient;
  };
  for (const Row& r : std::array<Row, 4>{{{1.4, 0.528281788, 0.684731456},
                                          {1.3, 0.545727734, 0.667262351},
                                          {1.66, 0.488083760, 0.725227430},
                                          {1.11, 0.582588012, 0.630447988}}}) {
    CHECK(critical_ratio(r.gamma) == doctest::Approx(r.ratio).epsilon(1e-8));
    CHECK(choked_coefficient(r.gamma) == doctest::Approx(r.coefficient).epsilon(1e-8));
  }
}

TEST_CASE("plant physics: relief flow of API 520 part 1, gas example") {
  // 24270 kg/h at 348 K, Z 0.90, M 51, k 1.11, 670 kPa, Kd 0.975 needs 0.0036990460 m2; the standard's own
  // constant is rounded, hence 5e-5. Z enters as a molar mass of M / Z.
  const double flow = orifice_mass_flow(0.975 * 0.0036990460646834414, 670e3, 101e3, 348, 0.051 / 0.90, 1.11);
  CHECK(flow == doctest::Approx(24270.0 / 3600.0).epsilon(5e-5));
}

TEST_CASE("plant physics: subsonic nozzle of White, Fluid Mechanics, example 9.6 (from memory)") {
  const double mass = kGasConstant / 287.0;
  CHECK(orifice_mass_flow(6e-4, 120e3, 90e3, 400, mass) == doctest::Approx(0.128596).epsilon(1e-5));
  CHECK(orifice_mass_flow(6e-4, 120e3, 45e3, 400, mass) == doctest::Approx(0.145506).epsilon(1e-5));
}

TEST_CASE("plant physics: nitrogen through an ideal 1 mm hole, choked and subsonic closed forms at 20 C") {
  struct Row {
    double psig, kg_per_s;
  };
  for (const Row& r : std::array<Row, 6>{{{5, 2.198742738e-4},
                                          {10, 3.073683884e-4},
                                          {13, 3.481457219e-4},
                                          {14, 3.607203153e-4},
                                          {30, 5.618471395e-4},
                                          {60, 9.389599348e-4}}}) {
    const double p = kAtmosphere + r.psig * kPsi;
    CHECK(orifice_mass_flow(hole(1), p, kAtmosphere, 293.15, kNitrogenMass) ==
          doctest::Approx(r.kg_per_s).epsilon(1e-8));
    CHECK(orifice_flow(hole(1), p, kAtmosphere, 293.15, 0.0) * kNitrogenMass ==
          doctest::Approx(r.kg_per_s).epsilon(1e-8));
  }
  CHECK(orifice_flow(hole(1), kAtmosphere, kAtmosphere, 293.15, 0.0) == 0.0);
  CHECK(orifice_flow(0.0, 4e5, kAtmosphere, 293.15, 0.0) == 0.0);
}

TEST_CASE("plant physics: the hole of NFPA 13-2019 28.2.2.1, 1.5 psi in 24 h from 40 psi") {
  // Ideal hole at 20 C: 0.0619684 mm for 500 gal; the reference here is 21 C, so the area shrinks with 1/sqrt(T).
  const double volume = 500 * 0.003785411784;
  const double area = hole_of_loss(1.5 * kPsi, volume);
  CHECK(std::sqrt(area * 4.0 / std::numbers::pi) * 1e3 ==
        doctest::Approx(0.0619684 * std::pow(293.15 / 294.15, 0.25)).epsilon(1e-5));
  for (double loss : {0.1, 1.5, 12.0, 26.0})
    CHECK(loss_of_hole(hole_of_loss(loss * kPsi, volume), volume) == doctest::Approx(loss * kPsi).epsilon(1e-12));
}

TEST_CASE("plant physics: isothermal blowdown of a tank, closed form while choked and ODE solution after") {
  // p = p0 exp(-k t); below 13.12 psi gauge DOP853 at 1e-12. First order in the step of 0.5 s: 1e-4.
  struct Row {
    double at, pascal;
  };
  for (const Row& r : std::array<Row, 5>{
           {{600, 359588.9306}, {3600, 283443.9357}, {7200, 213039.5305}, {10800, 160344.3355}, {18000, 104560.2887}}})
    CHECK(blown_down(0, r.at) == doctest::Approx(r.pascal).epsilon(1e-4));
}

TEST_CASE("plant physics: adiabatic blowdown of a tank, closed form while choked") {
  // p = p0 (1 + (g-1)/2 k0 t)^(-2g/(g-1))
  CHECK(blown_down(1e12, 600) == doctest::Approx(352919.7922).epsilon(1e-4));
  CHECK(blown_down(1e12, 1800) == doctest::Approx(309660.2522).epsilon(1e-4));
  CHECK(blown_down(1e12, 3600) == doctest::Approx(255646.9274).epsilon(2e-4));
}

TEST_CASE("plant physics: sweep of a well-mixed pipe, Crowl and Louvar sweep-through equation") {
  // Q t = V ln((C1 - C0) / (C2 - C0)): from 20.946 to 2 % with 0.5 % feed takes 2.612322 contents.
  Pipe pipe({1, 0, 0, 0}, 100.0, 0.20946);
  const int pieces = 100000;
  PipeFlows f;
  f.feed = f.vent = 2.612322 * 100.0 / pieces;
  f.feed_oxygen = 0.005;
  for (int i = 0; i < pieces; ++i) pipe.flow(f);
  CHECK(pipe.mean_share() == doctest::Approx(0.02).epsilon(1e-4));
  CHECK(pipe.moles() == doctest::Approx(100.0).epsilon(1e-9));
}

TEST_CASE("plant physics: pressure swing between 20 and 40 psi, mixed at once, NFPA 69 pressure purging") {
  // Factor 0.634343 a cycle (14.696 psi atmosphere): 13.28694, 8.42847, 5.34654 % after 1, 2, 3 cycles of pure N2.
  const double high = 54.696, low = 34.696;
  Pipe pipe({24, 0, 0.1, 60.0}, high, 0.20946);
  for (double percent : {13.28694, 8.42847, 5.34654}) {
    PipeFlows out, in;
    out.vent = (high - low) / 1000;
    in.feed = (high - low) / 1000;
    for (int i = 0; i < 1000; ++i) pipe.flow(out), pipe.mix(600);
    for (int i = 0; i < 1000; ++i) pipe.flow(in), pipe.mix(600);
    CHECK(100 * pipe.mean_share() == doctest::Approx(percent).epsilon(1e-4));
  }
}

TEST_CASE("plant physics: gas and oxygen are conserved to 1e-9 through any mixture of flows") {
  Pipe pipe({30, 4 * 3600.0, 0.2, 3600.0}, 200.0, 0.20946);
  const double gas = pipe.moles(), oxygen = pipe.oxygen();
  double net = 0, net_oxygen = 0;
  for (int i = 0; i < 200000; ++i) {
    PipeFlows f;
    f.vent_cell = i % 7 < 3 ? 0 : pipe.last();
    f.leak_cell = 11, f.sample_cell = 20;
    f.feed = i % 5 < 2 ? 0.05 : 0.0, f.feed_oxygen = 0.01;
    f.vent = i % 9 < 4 ? 0.03 : 0.0, f.leak = 0.004, f.sample = 0.002;
    net += f.feed - f.vent - f.leak - f.sample;
    net_oxygen +=
        f.feed * f.feed_oxygen - f.vent * pipe.share(f.vent_cell) - f.leak * pipe.share(11) - f.sample * pipe.share(20);
    pipe.flow(f);
    pipe.mix(1.0);
  }
  CHECK(pipe.moles() == doctest::Approx(gas + net).epsilon(1e-9));
  CHECK(std::abs(pipe.oxygen() - oxygen - net_oxygen) < 1e-9 * oxygen);
  CHECK(pipe.worst_share() <= 0.20946 + 1e-12);
}

TEST_CASE("plant physics: the slowest unevenness along the pipe fades with the stated time") {
  Pipe pipe({24, 7200.0, 0, 0}, 48.0, 0.0);
  PipeFlows rich;  // a front: oxygen at the riser, none behind
  rich.feed = 0.05, rich.feed_oxygen = 0.2;
  for (int i = 0; i < 100; ++i) pipe.flow(rich);
  for (int i = 0; i < 7200; ++i) pipe.mix(2.0);  // two e-foldings: only the slowest is left
  const double before = pipe.share(0) - pipe.share(pipe.last());
  for (int i = 0; i < 3600; ++i) pipe.mix(2.0);
  const double after = pipe.share(0) - pipe.share(pipe.last());
  CHECK(after / before == doctest::Approx(std::exp(-1.0)).epsilon(1e-3));
}

TEST_CASE("plant physics: a short circuit at the riser reads purity that the far pipe has not") {
  Pipe pipe({24, 48 * 3600.0, 0, 0}, 100.0, 0.20946);
  PipeFlows f;
  f.feed = f.vent = 0.02;
  for (int i = 0; i < 15000; ++i) pipe.flow(f), pipe.mix(1.0);  // three contents
  CHECK(pipe.share(0) < 0.02);
  CHECK(pipe.share(pipe.last()) > 0.15);
}
