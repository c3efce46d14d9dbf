#include "drivers/plant/physics.h"

#include <algorithm>
#include <cmath>

namespace riserkeep::plant {

namespace {
constexpr double kStandard = 101325.0;                               // Pa
constexpr double kReference = kStandard + 40.0 * 6894.757293168361;  // 40 psi gauge, absolute
constexpr double kReferenceTemperature = 294.15;                     // 21 C

double decay_per_area(double volume) {
  return choked_coefficient() * std::sqrt(kGasConstant / kNitrogenMass * kReferenceTemperature) / volume;
}
}  // namespace

double critical_ratio(double g) { return std::pow(2.0 / (g + 1.0), g / (g - 1.0)); }

double choked_coefficient(double g) { return std::sqrt(g) * std::pow(2.0 / (g + 1.0), (g + 1.0) / (2.0 * (g - 1.0))); }

double orifice_mass_flow(double area, double p_in, double p_out, double temperature, double molar_mass, double g) {
  static const double critical_of_air = critical_ratio(), choked_of_air = choked_coefficient();
  if (!(p_in > p_out) || !(area > 0.0)) return 0.0;
  const bool usual = std::abs(g - kHeatRatio) < 1e-12;
  const double specific = kGasConstant / molar_mass;
  const double q = p_out / p_in;
  if (q <= (usual ? critical_of_air : critical_ratio(g)))
    return area * p_in * (usual ? choked_of_air : choked_coefficient(g)) / std::sqrt(specific * temperature);
  const double shape = std::pow(q, 2.0 / g) - std::pow(q, (g + 1.0) / g);
  return area * p_in * std::sqrt(std::max(0.0, 2.0 * g / ((g - 1.0) * specific * temperature) * shape));
}

double orifice_flow(double area, double p_in, double p_out, double temperature, double oxygen_share) {
  const double mass = kNitrogenMass + oxygen_share * (kOxygenMass - kNitrogenMass);
  return orifice_mass_flow(area, p_in, p_out, temperature, mass) / mass;
}

double hole_of_loss(double loss, double volume) {
  const double share = std::clamp(loss / kReference, 0.0, 0.97);
  return -std::log1p(-share) / kDaySeconds / decay_per_area(volume);
}

double loss_of_hole(double area, double volume) {
  return -kReference * std::expm1(-area * decay_per_area(volume) * kDaySeconds);
}

}  // namespace riserkeep::plant
