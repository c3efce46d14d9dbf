#include "rules/gas.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace riserkeep {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();

// Cubic metres of one mole at the reference of a free-gas volume.
double molar_volume(Temperature t, AbsolutePressure p) { return kGasConstant * t.si() / p.si(); }

}  // namespace

Amount gas_amount(AbsolutePressure p, Volume v, Temperature t) {
  return Amount::from_si(p.si() * v.si() / (kGasConstant * t.si()));
}

Volume free_gas(Amount n, Temperature reference, AbsolutePressure p) {
  return Volume::from_si(n.si() * molar_volume(reference, p));
}

MolarFlow from_scfm(double scfm, Temperature reference) {
  return MolarFlow::from_si(scfm * kCubicMetrePerCubicFoot / 60.0 / molar_volume(reference, kStandardAtmosphere));
}

double in_scfh(MolarFlow f, Temperature reference) {
  return f.si() * molar_volume(reference, kStandardAtmosphere) * 3600.0 / kCubicMetrePerCubicFoot;
}

double in_std_litres_per_minute(MolarFlow f, Temperature reference) {
  return f.si() * molar_volume(reference, kStandardAtmosphere) * 60.0 * 1000.0;
}

double critical_ratio(double gamma) { return std::pow(2.0 / (gamma + 1.0), gamma / (gamma - 1.0)); }

double critical_flow_factor(double gamma) {
  return std::sqrt(gamma) * std::pow(2.0 / (gamma + 1.0), (gamma + 1.0) / (2.0 * (gamma - 1.0)));
}

double orifice_mass_flow(double cd, Area a, AbsolutePressure up, AbsolutePressure down, Temperature t,
                         double molar_mass, double gamma) {
  if (!(up > down)) return 0.0;
  const double specific = kGasConstant / molar_mass * t.si();
  const double ratio = std::max(down.si(), 0.0) / up.si();
  if (ratio <= critical_ratio(gamma)) return cd * a.si() * up.si() * critical_flow_factor(gamma) / std::sqrt(specific);
  const double expansion = std::pow(ratio, 2.0 / gamma) - std::pow(ratio, (gamma + 1.0) / gamma);
  return cd * a.si() * up.si() * std::sqrt(2.0 * gamma / ((gamma - 1.0) * specific) * expansion);
}

Area circle(Length diameter) { return Area::from_si(std::numbers::pi / 4.0 * diameter.si() * diameter.si()); }

double choked_share_per_second(double cd, Area a, Volume v, Temperature t) {
  const double specific = kGasConstant / kMolarMassN2 * t.si();
  return cd * a.si() * critical_flow_factor(kGammaDiatomic) * std::sqrt(specific) / v.si();
}

AbsolutePressure standard_atmosphere_at(double metres) {
  constexpr double kEarthRadius = 6356766.0, kLapse = 0.0065, kSeaLevel = 288.15, kExponent = 5.255876;
  const double geopotential = kEarthRadius * metres / (kEarthRadius + metres);
  const double share = std::pow(1.0 - kLapse * geopotential / kSeaLevel, kExponent);
  return AbsolutePressure::from_si(kStandardAtmosphere.si() * share);
}

double swing(double x, double feed, AbsolutePressure low, AbsolutePressure high) {
  return feed + (x - feed) * (low.si() / high.si());
}

double swings_needed(double from, double to, double feed, AbsolutePressure low, AbsolutePressure high) {
  if (from <= to) return 0.0;
  if (to <= feed || low >= high) return kNever;
  return std::log((to - feed) / (from - feed)) / std::log(low.si() / high.si());
}

double sweep_volumes(double from, double to, double feed) {
  if (from <= to) return 0.0;
  if (to <= feed) return kNever;
  return std::log((from - feed) / (to - feed));
}

}  // namespace riserkeep
