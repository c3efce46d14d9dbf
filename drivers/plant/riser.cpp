#include "drivers/plant/riser.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "drivers/plant/physics.h"

namespace riserkeep::plant {

namespace {
constexpr double kHeadArea = 8.9e-5;         // m2: half-inch open sprinkler with its discharge coefficient
constexpr double kRegulatorDroop = 2000.0;   // Pa below the setting at which a regulator is wide open
constexpr double kLeastSample = 3000.0;      // Pa gauge needed to push gas through a sampling line
constexpr double kFeedTemperature = 291.15;  // K

std::optional<double> true_trip(const System& s, const Scenario& scenario) {
  const bool water_waits = s.kind == SystemKind::dry_pipe || s.kind == SystemKind::preaction_non;
  if (!scenario.valves_trip || !water_waits) return std::nullopt;
  if (s.valve.trips_at) return (*s.valve.trips_at + scenario.trip_error).si();
  if (s.valve.kind != ValveKind::differential || !(s.valve.ratio > 0)) return std::nullopt;
  return s.valve.highest_water.si() / s.valve.ratio + scenario.trip_error.si();
}

PipeShape shape_of(const Scenario& scenario, const SystemTruth& t) {
  return {scenario.cells, t.mixing_hours * 3600.0, std::clamp(t.dead_leg_share, 0.0, 0.5), t.dead_leg_hours * 3600.0};
}
}  // namespace

Riser::Riser(const System& s, const Scenario& scenario, const SystemTruth& t, double atmosphere, double travel)
    : volume_(t.volume.si()),
      leak_area_(hole_of_loss(t.leak.si() * kDaySeconds, t.volume.si())),
      cut_in_((s.air.cut_in + t.cut_in_error).si()),
      cut_out_((s.air.cut_out + t.cut_out_error).si()),
      travel_seconds_(travel),
      gas_lag_(t.gas_lag_seconds),
      wall_lag_(t.wall_lag_hours * 3600.0),
      water_(s.valve.highest_water.si() > 0 ? s.valve.highest_water.si() : 5.5e5),
      trip_(true_trip(s, scenario)),
      regulated_(s.air.regulated),
      pipe_(shape_of(scenario, t),
            gas_moles(atmosphere + cut_in_ + t.initial_fill * (cut_out_ - cut_in_), volume_, t.wall_mean.si()),
            t.initial_oxygen.fraction()),
      gas_(t.wall_mean.si()),
      wall_(t.wall_mean.si()) {
  leak_cell_ = static_cast<int>(std::lround(std::clamp(t.leak_at, 0.0, 1.0) * pipe_.last()));
  if (!s.vent) return;
  const double bore = s.vent->bore.si();
  vent_area_ = t.vent_discharge * std::numbers::pi / 4.0 * bore * bore;
  vent_cell_ = s.vent->tap == Tap::far_end ? pipe_.last() : 0;
}

double Riser::pressure() const { return gas_pressure(pipe_.moles(), volume_, gas_); }

double Riser::leak_area(const RiserFaults& f) const { return leak_area_ + hole_of_loss(f.extra_leak, volume_); }

// After the valve has opened the air goes out through the open head or is squeezed, then water stands there.
double Riser::gauge(double atmosphere) const {
  if (!water_seconds_) return pressure() - atmosphere;
  const double t = *water_seconds_, fell = 7000.0;
  if (t < 20.0) return fell + (trip_.value_or(fell) - fell) * std::exp(-t / 4.0);
  return fell + (water_ - fell) * -std::expm1(-(t - 20.0) / 60.0);
}

double Riser::demand(double atmosphere) {
  if (water_seconds_) {
    refilling_ = false;
    return 0;
  }
  const double now = pressure() - atmosphere;
  const bool before = refilling_;
  double wanted = 0;
  if (regulated_) {
    wanted = std::clamp((cut_out_ - now) / kRegulatorDroop, 0.0, 1.0);
    refilling_ = wanted > 0.02;
  } else {
    if (now <= cut_in_) refilling_ = true;
    if (now >= cut_out_) refilling_ = false;
    wanted = refilling_ ? 1 : 0;
  }
  if (refilling_ && !before) ++refills_;
  return wanted;
}

void Riser::move_vent(const RiserStep& in) {
  const double reach = travel_seconds_ > 0 ? in.seconds / travel_seconds_ : 1.0;
  if (in.vent_commanded)
    opening_ = std::min(1.0, opening_ + reach);
  else if (!in.faults.vent_stuck)
    opening_ = std::max(0.0, opening_ - reach);
}

void Riser::step(const RiserStep& in) {
  const double lag = wall_lag_ > 0 ? -std::expm1(-in.seconds / wall_lag_) : 1.0;
  wall_ += lag * (in.outside - wall_);
  move_vent(in);
  vent_rate_ = 0;
  if (water_seconds_) {
    *water_seconds_ += in.seconds;
    return;
  }
  // Flows may not empty a cell within one piece; the factor 3 leaves room for flows in opposite directions.
  const double areas = opening_ * vent_area_ + leak_area(in.faults) + (in.faults.sprinkler_open ? kHeadArea : 0);
  const double most = in.feed + in.sample + orifice_flow(areas, pressure(), in.atmosphere, gas_, 0.0);
  const int pieces = std::clamp(1 + static_cast<int>(3.0 * most * in.seconds / pipe_.largest_flow()), 1, 5000);
  for (int i = 0; i < pieces; ++i) move_gas(in, in.seconds / pieces);
  pipe_.mix(in.seconds);
  if (trip_ && pressure() - in.atmosphere < *trip_) water_seconds_ = 0.0;
}

void Riser::move_gas(const RiserStep& in, double seconds) {
  const double p = pressure(), before = pipe_.moles();
  PipeFlows f;
  f.vent_cell = f.sample_cell = vent_cell_;
  f.leak_cell = in.faults.sprinkler_open ? pipe_.last() : leak_cell_;
  f.feed = in.feed * seconds;
  f.feed_oxygen = in.feed_oxygen;
  const double vent_x = pipe_.share(vent_cell_), leak_x = pipe_.share(f.leak_cell);
  const double vent_area = opening_ * vent_area_ * (1.0 - in.faults.vent_lost);
  f.vent = orifice_flow(vent_area, p, in.atmosphere, gas_, vent_x) * seconds;
  const double leak = leak_area(in.faults) + (in.faults.sprinkler_open ? kHeadArea : 0.0);
  f.leak = orifice_flow(leak, p, in.atmosphere, gas_, leak_x) * seconds;
  if (p - in.atmosphere > kLeastSample) f.sample = in.sample * seconds;
  pipe_.flow(f);
  vent_rate_ += f.vent / in.seconds;
  amounts_.fed += f.feed;
  amounts_.fed_oxygen += f.feed * f.feed_oxygen;
  amounts_.vented += f.vent;
  amounts_.vented_oxygen += f.vent * vent_x;
  amounts_.leaked += f.leak;
  amounts_.leaked_oxygen += f.leak * leak_x;
  amounts_.sampled += f.sample;
  amounts_.sampled_oxygen += f.sample * vent_x;
  exchange_heat(f, before, seconds);
}

// n cv dT = feed (cp T_feed - cv T) - out (cp - cv) T + heat from the wall: gas that comes in is compressed and
// warm, gas that stays behind after a venting is cold.
void Riser::exchange_heat(const PipeFlows& f, double before, double seconds) {
  if (gas_lag_ <= 0) {
    gas_ = wall_;
    return;
  }
  const double out = f.vent + f.leak + f.sample;
  gas_ += (f.feed * (kHeatRatio * kFeedTemperature - gas_) - out * (kHeatRatio - 1.0) * gas_) / before;
  gas_ += -std::expm1(-seconds / gas_lag_) * (wall_ - gas_);
}

void Riser::reset_valve(double atmosphere) {
  if (!water_seconds_) return;
  water_seconds_.reset();
  gas_ = wall_;
  pipe_.refill_with(gas_moles(atmosphere + cut_out_, volume_, gas_), kAirOxygenShare);
}

}  // namespace riserkeep::plant
