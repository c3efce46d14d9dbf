#include "drivers/plant/scenario.h"

#include <algorithm>
#include <cmath>

#include "drivers/plant/weather.h"

namespace riserkeep {

namespace {
using plant::Normal;

double between(Normal& odds, double low, double high) { return low + (high - low) * odds.uniform(); }
double log_between(Normal& odds, double low, double high) {
  return std::exp(between(odds, std::log(low), std::log(high)));
}
double bounded(Normal& odds, double sd) { return sd * std::clamp(odds.draw(), -2.5, 2.5); }

// Litres mix and lose their heat faster than cubic metres: a bench plant of 10 L mixes in minutes.
double size_of(Volume v) { return std::clamp(v.si(), 0.001, 1.0); }  // of a cubic metre

SystemTruth drawn(const System& s, Normal& odds) {
  SystemTruth t;
  if (s.volume)
    t.volume = *s.volume;
  else
    t.volume = litres(between(odds, 500, 2500));
  const double size = size_of(t.volume);
  t.leak = psi_per_day(log_between(odds, 0.1, 2.0));
  t.leak_at = odds.uniform();
  t.mixing_hours = log_between(odds, 1, 12) * size;
  t.dead_leg_share = odds.uniform() < 0.5 ? 0.0 : 0.1;
  t.dead_leg_hours = between(odds, 6, 24) * size;
  t.initial_fill = odds.uniform();
  t.wall_mean = s.cold_store ? celsius(between(odds, -25, -18)) : celsius(between(odds, 8, 20));
  t.daily_swing = TemperatureChange::from_si(s.cold_store ? 0.3 : between(odds, 0.3, 3.0));
  t.weather_swing = TemperatureChange::from_si(s.cold_store ? 0.2 : between(odds, 0.3, 2.0));
  t.gas_lag_seconds = 45 * std::cbrt(size * size);
  t.cut_in_error = psi(bounded(odds, 0.4));
  t.cut_out_error = psi(bounded(odds, 0.4));
  t.low_air_error = psi(bounded(odds, 0.4));
  t.gauge_offset = psi(bounded(odds, 0.3));
  t.gauge_noise = psi(between(odds, 0.02, 0.06));
  t.thermometer_offset = TemperatureChange::from_si(bounded(odds, 0.5));
  t.vent_discharge = between(odds, 0.75, 0.9);
  return t;
}

SupplyTruth drawn(const Supply& s, Normal& odds) {
  SupplyTruth t;
  if (s.flow) t.flow = between(odds, 0.9, 1.1) * *s.flow;
  t.oxygen = OxygenFraction::clamped(s.oxygen.fraction() * between(odds, 0.5, 1.0));
  t.wander = OxygenFraction::clamped(0.1 * t.oxygen.fraction());
  return t;
}

AnalyserTruth drawn(Normal& odds, double smallest) {
  AnalyserTruth t;
  t.sample_flow = std::min(1.0, smallest / 0.1) * t.sample_flow;  // a bench plant has no gas to spare
  t.span = 1.0 + bounded(odds, 0.007);
  t.offset_percent = bounded(odds, 0.07);
  t.noise_percent = between(odds, 0.02, 0.05);
  return t;
}

// A leak is felt, and the dock's traffic moves the temperature, as the words of the demo say.
void dock(SystemTruth& t) {
  t.leak = psi_per_day(0.6);
  t.mixing_hours = 3;
  t.dead_leg_share = 0;
  t.wall_mean = celsius(12);
  t.daily_swing = TemperatureChange::from_si(2.5);
}
void loft(SystemTruth& t) {
  t.leak = psi_per_day(4.0);
  t.leak_at = 0.7;
  t.mixing_hours = 5;
  t.dead_leg_share = 0.05;
  t.wall_mean = celsius(9);
  t.daily_swing = TemperatureChange::from_si(4.0);
}
void freezer(SystemTruth& t) {
  t.leak = psi_per_day(0.15);
  t.mixing_hours = 8;
  t.dead_leg_share = 0;
  t.wall_mean = celsius(-22);
  t.daily_swing = TemperatureChange::from_si(0.3);
  t.weather_swing = TemperatureChange::from_si(0.2);
}
void archive(SystemTruth& t) {
  t.leak = psi_per_day(0.4);
  t.mixing_hours = 2;
  t.dead_leg_share = 0;
  t.wall_mean = celsius(19);
  t.daily_swing = TemperatureChange::from_si(0.4);
  t.weather_swing = TemperatureChange::from_si(0.3);
}
}  // namespace

Scenario default_scenario(const Site& site, std::uint64_t seed) {
  Scenario out;
  out.seed = seed;
  std::uint64_t place = 0;
  const auto odds = [&] { return Normal(plant::mixed_seed(seed, 100, place++)); };
  double smallest = 1.0;  // m3
  for (const System& s : site.systems) {
    Normal each = odds();
    out.systems.push_back(drawn(s, each));
    smallest = std::min(smallest, out.systems.back().volume.si());
  }
  for (const Supply& s : site.supplies) {
    Normal each = odds();
    out.supplies.push_back(drawn(s, each));
  }
  for (std::size_t i = 0; i < site.analysers.size(); ++i) {
    Normal each = odds();
    out.analysers.push_back(drawn(each, smallest));
  }
  if (smallest < 0.1) out.step = milliseconds(100);  // litres fill within seconds
  return out;
}

Scenario demo_scenario(const Site& site) {
  Scenario out = default_scenario(site, 20311013);
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    SystemTruth& t = out.systems[i];
    const std::string& id = site.systems[i].id;
    const double size = size_of(t.volume);
    const auto be = [&](void (*as)(SystemTruth&)) {
      as(t);
      t.mixing_hours *= size;
      t.cut_in_error = 0.5 * t.cut_in_error;
      t.gauge_offset = 0.5 * t.gauge_offset;
    };
    if (id == "loading-dock") be(dock);
    if (id == "roof-void") be(loft);
    if (id == "freezer") be(freezer);
    if (id == "archive") be(archive);
  }
  for (SupplyTruth& s : out.supplies) s.oxygen = oxygen_percent(0.6), s.wander = oxygen_percent(0.05);
  return out;
}

}  // namespace riserkeep
