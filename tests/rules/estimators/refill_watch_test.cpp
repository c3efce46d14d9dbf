#include "rules/estimators/refill_watch.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <vector>

#include "rules/units.h"

using namespace riserkeep;

namespace {

constexpr EngineTime kStart{hours(50)};
EngineTime after_seconds(double s) { return kStart + from_seconds(s); }

struct Seen { std::vector<Refill> finished; std::vector<double> first_running; RefillWatch watch; };

// Feeds pressure(seconds) [psi gauge] at one poll with noise, as the instrument would give it.
Seen run(double length, double poll, double noise, unsigned seed, const std::function<double(double)>& pressure,
         const std::function<std::optional<Temperature>(double)>& gas = [](double) { return std::optional<Temperature>{}; }) {
  std::mt19937 g(seed);
  std::normal_distribution<double> normal(0.0, 1.0);
  Seen seen;
  PressureTrack track;
  bool before = false;
  for (double s = 0; s < length; s += poll) {
    const EngineTime now = after_seconds(s);
    track.add(now, psig(std::round(1000.0 * (pressure(s) + noise * normal(g))) / 1000.0));
    seen.watch.step(track, now, false, gas(s));
    if (seen.watch.running() && !before) seen.first_running.push_back(s);
    before = seen.watch.running();
    if (auto r = seen.watch.take_finished()) seen.finished.push_back(*r);
  }
  return seen;
}

// Falls by `leak` psi/h from cut-out; fills at `rise` psi/min from cut-in.
struct Saw {
  double low = 35, high = 40, leak = 2.5, rise = 1.0;
  double fall_s() const { return (high - low) / leak * 3600.0; }
  double rise_s() const { return (high - low) / rise * 60.0; }
  double operator()(double s) const {
    const double at = std::fmod(s, fall_s() + rise_s());
    return at < fall_s() ? high - leak * at / 3600.0 : low + rise * (at - fall_s()) / 60.0;
  }
};

}  // namespace

TEST_CASE("refill watch: every refill once, at 2 s and at 10 s, in quiet and in noise") {
  for (const double poll : {2.0, 10.0})
    for (const double noise : {0.0, 0.02, 0.05, 0.1})
      for (const double rise : {0.4, 1.0, 5.0}) {
        CAPTURE(poll);
        CAPTURE(noise);
        CAPTURE(rise);
        const Saw saw{.rise = rise};
        const double cycle = saw.fall_s() + saw.rise_s();
        const Seen seen = run(4.5 * cycle, poll, noise, 7, saw);
        REQUIRE(seen.finished.size() == 4);
        for (std::size_t i = 0; i < 4; ++i) {
          const Refill& r = seen.finished[i];
          const double began = in_seconds(r.began - kStart) - static_cast<double>(i) * cycle - saw.fall_s();
          const double took = in_seconds(*r.ended - r.began);
          CHECK(std::abs(began) < 45.0 + 60.0 * 6.0 * noise / rise);
          CHECK(std::abs(took - saw.rise_s()) < 60.0 + 60.0 * 6.0 * noise / rise);
          CHECK(in_psi(r.to - r.from) == doctest::Approx(5.0).epsilon(0.08 + 0.7 * noise));
          const double late = seen.first_running[i] - static_cast<double>(i) * cycle - saw.fall_s();
          CHECK(late < 60.0 * std::max(0.25, 6.0 * noise) / rise + 45.0);
        }
        REQUIRE(seen.watch.learned_rise());
        CHECK(in_psi_per_minute(*seen.watch.learned_rise()) == doctest::Approx(rise).epsilon(rise > 2 ? 0.35 : 0.15));
      }
}

TEST_CASE("refill watch: neither the sun on the pipe nor noise nor spikes are refills") {
  for (const double poll : {2.0, 10.0})
    for (const double noise : {0.02, 0.1}) {
      CAPTURE(poll);
      CAPTURE(noise);
      // 5 psi of daily swing and 2.5 psi in one hour of morning sun: 40 F/h (common practice: 0.1 psi per F at 40 psi)
      const Seen sun = run(86400.0, poll, noise, 11, [](double s) {
        const double hour = std::fmod(s / 3600.0, 24.0);
        const double roof = 2.5 * std::clamp(hour - 8.0, 0.0, 1.0) * std::clamp(0.5 * (20.0 - hour), 0.0, 1.0);
        return 36.0 + 2.5 * std::sin(2.0 * std::numbers::pi * hour / 24.0) + roof;
      });
      CHECK(sun.watch.begun_within(days(3), after_seconds(86400.0)) == 0);
    }
  const Seen spikes = run(86400, 10, 0.02, 3, [](double s) { return std::fmod(s, 1000.0) < 10.0 ? 60.0 : 38.0; });
  CHECK(spikes.finished.empty());
}

TEST_CASE("refill watch: counts, run time and what may be counted as a leak's") {
  Saw saw{.leak = 10.0, .rise = 2.0};
  const double cycle = saw.fall_s() + saw.rise_s();
  const Seen seen = run(10.0 * cycle, 10, 0.02, 5, saw);
  const EngineTime now = after_seconds(10.0 * cycle);
  CHECK(seen.watch.begun_within(days(1), now) == 10);
  CHECK(seen.watch.begun_within(from_seconds(3.0 * cycle), now) == 3);
  CHECK(seen.watch.leak_refills_within(days(1), now) == 10);
  CHECK(in_seconds(seen.watch.run_time_within(days(1), now)) == doctest::Approx(10.0 * saw.rise_s()).epsilon(0.15));
  CHECK(seen.watch.last()->ended.has_value());
}

TEST_CASE("refill watch: the cause of a refill") {
  const auto fill = [](double s) { return s < 7200 ? 40.0 - 3.0 * s / 7200.0 : std::min(40.0, 37.0 + (s - 7200.0) / 60.0); };
  const auto steady = [](double) { return std::optional{celsius(20)}; };
  // 54.7 psi absolute lose 3 psi with 16 K
  const auto cooling = [](double s) { return std::optional{celsius(20.0 - 16.0 * std::min(s, 7200.0) / 7200.0)}; };
  CHECK(run(8400, 10, 0.02, 1, fill, steady).finished.at(0).cause == RefillCause::leak);
  CHECK(run(8400, 10, 0.02, 1, fill, cooling).finished.at(0).cause == RefillCause::cooling);
  CHECK(run(8400, 10, 0.02, 1, fill).finished.at(0).cause == RefillCause::unknown);

  PressureTrack track;
  RefillWatch watch;
  for (double s = 0; s < 8400; s += 10) {
    track.add(after_seconds(s), psig(fill(s)));
    watch.step(track, after_seconds(s), true, steady(s));
  }
  REQUIRE(watch.last());
  CHECK(watch.last()->cause == RefillCause::vent);
  CHECK(watch.leak_refills_within(days(1), after_seconds(8400)) == 0);
  CHECK(watch.begun_within(days(1), after_seconds(8400)) == 1);
}

TEST_CASE("refill watch: a refill that a restart cuts is closed with what was seen") {
  PressureTrack track;
  RefillWatch watch;
  for (double s = 0; s < 600; s += 10) {
    track.add(after_seconds(s), psig(s < 300 ? 35.0 : 35.0 + (s - 300.0) / 60.0));
    watch.step(track, after_seconds(s), false);
  }
  REQUIRE(watch.running());
  watch.break_off();
  CHECK_FALSE(watch.running());
  REQUIRE(watch.last());
  CHECK(in_psi(watch.last()->to) > 38.0);
}
