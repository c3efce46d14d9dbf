#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "rules/estimators/pressure_track.h"
#include "rules/estimators/purge_fit.h"
#include "rules/estimators/signal_health.h"
#include "rules/estimators/water_high.h"
#include "rules/units.h"

using namespace riserkeep;

namespace {
constexpr EngineTime kStart{hours(7)};
EngineTime at_s(double s) { return kStart + from_seconds(s); }
doctest::Approx near(double v, double e) { return doctest::Approx(v).scale(0.0).epsilon(e); }
}  // namespace

TEST_CASE("pressure track: means and slopes over windows") {
  PressureTrack t;
  CHECK_FALSE(t.newest());
  for (int i = 0; i <= 60; ++i) t.add(at_s(10 * i), psig(40.0 - 0.01 * i));
  CHECK(in_psi(t.newest()->pressure) == near(39.4, 1e-12));
  CHECK(in_psi(*t.mean(at_s(570), at_s(600))) == near(39.41, 1e-12));  // 580, 590, 600: open at the left
  CHECK_FALSE(t.mean(at_s(601), at_s(700)));
  CHECK(in_psi(*t.mean_of_last(3, at_s(600))) == near(39.41, 1e-12));
  CHECK(in_psi(*t.mean_of_last(2, at_s(595))) == near(39.415, 1e-12));
  CHECK_FALSE(t.mean_of_last(20, at_s(600)));                             // older than two minutes
  CHECK_FALSE(t.mean_of_last(3, at_s(900)));
  CHECK(in_psi_per_minute(*t.slope(at_s(0), at_s(600))) == near(-0.06, 1e-9));
  CHECK_FALSE(t.slope(at_s(585), at_s(600)));                             // two readings make no slope
  CHECK(in_psi(*t.median_of_last(5)) == near(39.42, 1e-12));
}

TEST_CASE("pressure track: bounded, in order, and forgetful at a break") {
  PressureTrack t;
  for (int i = 0; i < 5000; ++i) t.add(at_s(i), psig(40));
  CHECK(t.samples().size() == 600);
  t.add(at_s(10), psig(12));
  CHECK(t.samples().size() == 600);
  CHECK(in_psi(t.newest()->pressure) == near(40, 1e-12));
  t.add(at_s(5000 + 16 * 60), psig(39));
  CHECK(t.samples().size() == 1);
  t.break_off();
  CHECK(t.samples().empty());
}

TEST_CASE("pressure track: noise is measured beside a steady fall and a refill") {
  for (const double sigma : {0.0, 0.02, 0.1}) {
    PressureTrack t;
    std::mt19937 g(5);
    std::normal_distribution<double> n(0.0, 1.0);
    CHECK(in_psi(t.noise()) == near(0.05, 1e-12));  // nothing known yet
    for (int i = 0; i < 2000; ++i) t.add(at_s(10 * i), psig(50.0 - 0.01 * i + (i > 1500 ? 0.05 * (i - 1500) : 0.0) + sigma * n(g)));
    CAPTURE(sigma);
    if (sigma > 0) CHECK(in_psi(t.noise()) == near(sigma, 0.1));
    else CHECK(in_psi(t.noise()) == near(0.001 / std::sqrt(12.0), 0.3));
  }
}

TEST_CASE("signal health: frozen only if it used to move") {
  const auto reading = [](int i, std::int64_t ticks) { return Reading{ChannelId{0}, at_s(10 * i), ticks, Quality::good, Why::none}; };
  std::mt19937 g(2);
  std::normal_distribution<double> n(0.0, 20.0);
  SUBCASE("a live transducer that stops") {
    SignalHealth h;
    int i = 0;
    for (; i < 400; ++i) {
      h.add(reading(i, 40000 + std::lround(n(g))));
      CHECK_FALSE(h.frozen(at_s(10 * i), minutes(2)));
    }
    CHECK(*h.noise_ticks() == near(20.0, 0.15));
    for (const int stop = i; i < stop + 200; ++i) h.add(reading(i, 40007));
    CHECK(h.frozen(at_s(10 * i), minutes(30)));
    CHECK_FALSE(h.frozen(at_s(10 * i), hours(2)));
    h.add(reading(i, 40012));
    CHECK_FALSE(h.frozen(at_s(10 * i), minutes(30)));
  }
  SUBCASE("a coarse one that repeats itself for hours is healthy") {
    SignalHealth h;
    int i = 0;
    for (; i < 3000; ++i) h.add(reading(i, 40000 - 100 * (i / 60)));
    CHECK_FALSE(h.frozen(at_s(10 * i), minutes(5)));
  }
  SUBCASE("ten different readings and then none that differ: too little known to call it frozen") {
    SignalHealth h;
    for (int i = 0; i < 10; ++i) h.add(reading(i, 40000 + i));
    for (int i = 10; i < 100; ++i) h.add(reading(i, 40000));
    CHECK_FALSE(h.frozen(at_s(1000), minutes(5)));
  }
}

TEST_CASE("signal health: how long it has been bad, and why") {
  SignalHealth h;
  CHECK_FALSE(h.bad_for(kStart));
  h.add({ChannelId{0}, at_s(0), std::nullopt, Quality::bad, Why::no_value});
  CHECK(*h.bad_for(at_s(60)) == seconds(60));
  h.add({ChannelId{0}, at_s(100), 40000, Quality::good, Why::none});
  CHECK_FALSE(h.bad_for(at_s(110)));
  h.add({ChannelId{0}, at_s(120), std::nullopt, Quality::bad, Why::failed_low});
  CHECK(*h.bad_for(at_s(160)) == seconds(60));
  CHECK(h.last_why() == Why::failed_low);
}

TEST_CASE("purge fit: asymptote and time to target") {
  const auto curve = [](double limit, double h) { return OxygenFraction::clamped((limit + (20.9 - limit) * std::exp(-h / 10.0)) / 100.0); };
  PurgeFit fit;
  fit.restart(kStart);
  for (int i = 0; i < 4; ++i) fit.add(kStart + hours(i + 1), curve(0.5, i + 1));
  CHECK_FALSE(fit.forecast(oxygen_percent(2), kStart + hours(4)));
  for (int i = 4; i < 20; ++i) fit.add(kStart + hours(i + 1), curve(0.5, i + 1));
  SUBCASE("a good feed: 10 h ln((20.9 - 0.5) / (2 - 0.5)) = 26.1 h") {
    const auto f = fit.forecast(oxygen_percent(2), kStart + hours(20));
    REQUIRE(f);
    CHECK(f->asymptote_percent == near(0.5, 1e-6));
    CHECK(f->tau_hours == near(10, 1e-6));
    REQUIRE(f->target_at);
    CHECK(in_hours(*f->target_at - kStart) == near(10.0 * std::log(20.4 / 1.5), 1e-5));
  }
  SUBCASE("a feed worse than the target never gets there") {
    PurgeFit bad;
    bad.restart(kStart);
    for (int i = 0; i < 40; ++i) bad.add(kStart + hours(i), OxygenFraction::clamped(curve(3.0, i).fraction() + (i % 2 ? 1e-3 : -1e-3)));
    const auto f = bad.forecast(oxygen_percent(2), kStart + hours(40));
    REQUIRE(f);
    CHECK(f->asymptote_low95 > 2.0);
    CHECK(f->asymptote_high95 > 3.0);
    CHECK_FALSE(f->target_at);
    CHECK_FALSE(f->target_high95);
  }
  SUBCASE("with noise the interval holds the truth and has width") {
    std::mt19937 g(9);
    std::normal_distribution<double> n(0.0, 0.001);
    PurgeFit noisy;
    noisy.restart(kStart);
    for (int i = 0; i < 30; ++i) noisy.add(kStart + hours(i), OxygenFraction::clamped(curve(0.5, i).fraction() + n(g)));
    const auto f = noisy.forecast(oxygen_percent(2), kStart + hours(30));
    REQUIRE(f);
    REQUIRE(f->target_high95);
    CHECK(f->asymptote_low95 < 0.5);
    CHECK(f->asymptote_high95 > 0.5);
    CHECK(*f->target_low95 < kStart + from_seconds(36000.0 * std::log(20.4 / 1.5)));
    CHECK(*f->target_high95 > kStart + from_seconds(36000.0 * std::log(20.4 / 1.5)));
  }
}

TEST_CASE("water pressure: the highest of the last seven days, kept and restored") {
  WaterHigh w;
  CHECK_FALSE(w.highest(EngineTime{hours(1)}));
  w.add(EngineTime{hours(1)}, psi(112));
  w.add(EngineTime{hours(2)}, psi(95));
  w.add(EngineTime{hours(24 * 3)}, psi(101));
  CHECK(in_psi(*w.highest(EngineTime{hours(24 * 3)})) == near(112, 1e-9));
  Archive save = Archive::saving();
  save.section(1, 1, w);
  Archive load = Archive::loading(std::move(save).take());
  WaterHigh again;
  REQUIRE(load.section(1, 1, again));
  CHECK(in_psi(*again.highest(EngineTime{hours(24 * 7)})) == near(112, 1e-9));
  CHECK(in_psi(*again.highest(EngineTime{hours(24 * 8 + 1)})) == near(101, 1e-9));
  CHECK_FALSE(again.highest(EngineTime{hours(24 * 12)}));
  again.add(EngineTime{hours(24 * 40)}, psi(80));
  CHECK(in_psi(*again.highest(EngineTime{hours(24 * 40)})) == near(80, 1e-9));
}
