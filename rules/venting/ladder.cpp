#include "rules/venting/ladder.h"

#include <algorithm>
#include <cmath>

#include "rules/gas.h"

namespace riserkeep {
namespace {

constexpr Temperature kWarm = celsius(40);   // warm gas leaves fastest
constexpr int kOldestSample = 3;             // polls: what a permit still calls fresh

double share_per_second(const System& s, double learned_k) {
  const double by_volume = s.vent && s.volume ? choked_share_per_second(s.vent->discharge, circle(s.vent->bore), *s.volume, kWarm) : 0.0;
  return std::max(by_volume, learned_k);
}

// Fall per second of the pipe through its own vent: choked, then subsonic.
double fall(const System& s, AbsolutePressure p, AbsolutePressure outside) {
  const double kg = orifice_mass_flow(s.vent->discharge, circle(s.vent->bore), p, outside, kWarm);
  return kg / kMolarMassN2 * kGasConstant * kWarm.si() / s.volume->si();
}

std::optional<Duration> reaction_time(const Site& site, const System& s, GaugePressure trip, double learned_k) {
  if (!s.vent) return std::nullopt;
  const AbsolutePressure top = to_absolute(s.air.cut_out, site.atmosphere), end = to_absolute(trip, site.atmosphere);
  if (end >= top) return Duration{};
  double seconds = -1;
  if (s.volume && end > site.atmosphere) {
    constexpr int kSteps = 400;
    const double dp = (top - end).si() / kSteps;
    seconds = 0;
    for (int i = 0; i < kSteps; ++i)
      seconds += dp / fall(s, AbsolutePressure::from_si(top.si() - (i + 0.5) * dp), site.atmosphere);
  }
  if (learned_k > 0) {
    const double learned = std::log(top.si() / end.si()) / learned_k;
    seconds = seconds < 0 ? learned : std::min(seconds, learned);
  }
  if (seconds < 0) return std::nullopt;
  return from_seconds(std::min(seconds, 1e9));
}

PressureChange gauge_error(const Channel& c) {
  return std::max(psi(0.5), psi(0.005 * (c.span_high - c.span_low)));
}

// From the last good look to the closed valve.
Duration blind_time(const Site& site, const System& s) {
  const Output& vent = site[s.vent->output];
  return (kOldestSample + 1) * site[s.pressure].poll + vent.reply_time_out + vent.valve_travel;
}

}  // namespace

std::optional<GaugePressure> trip_pressure(const System& s, std::optional<PressureChange> water_seen) {
  if (s.kind == SystemKind::preaction_single || s.kind == SystemKind::preaction_double) return std::nullopt;
  if (s.valve.trips_at) return s.valve.trips_at;
  if (s.valve.kind != ValveKind::differential || !(s.valve.ratio > 0)) return std::nullopt;
  const PressureChange water = water_seen ? std::max(*water_seen, s.valve.highest_water) : s.valve.highest_water;
  return GaugePressure{water / s.valve.ratio};
}

Ladder ladder(const Site& site, SystemId id, double learned_k, GaugePressure cut_in_seen, std::optional<PressureChange> water_seen) {
  const System& s = site[id];
  const VentingParams& p = site.venting;
  Ladder l;
  l.trip = trip_pressure(s, water_seen);
  l.low_air = s.valve.low_air_switch;
  l.cut_in = cut_in_seen;
  l.cut_out = s.air.cut_out;
  l.limit = l.low_air + std::max(psi(1.5), 0.08 * l.cut_out.from_zero());
  if (l.trip) l.limit = std::max(l.limit, *l.trip + p.limit_above_trip);
  l.margin = gauge_error(site[s.pressure]) + p.margin_extra;
  if (const double k = share_per_second(s, learned_k); s.vent && k > 0) {
    l.fastest_fall = PressureRate::from_si(k * to_absolute(l.cut_out, site.atmosphere).si());
    l.margin += l.fastest_fall * blind_time(site, s);
  }
  l.floor = l.limit + l.margin;
  l.close_at = std::max(l.floor, l.cut_in - p.close_below_cut_in);
  l.open_from = l.close_at + p.open_above_close;
  if (l.trip) l.reaction = reaction_time(site, s, *l.trip, learned_k);
  return l;
}

}  // namespace riserkeep
