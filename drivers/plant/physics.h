// Ideal gas and orifices of the simulated room, in plain SI. Written apart from rules/gas on purpose: both are
// held against the same published tables, never against each other.
#pragma once

namespace riserkeep::plant {

inline constexpr double kGasConstant = 8.314462618;  // J/(mol K), SI 2019
inline constexpr double kHeatRatio = 1.4;            // N2 and O2 near 300 K
inline constexpr double kNitrogenMass = 0.0280134;   // kg/mol
inline constexpr double kOxygenMass = 0.0319988;     // kg/mol
inline constexpr double kAirOxygenShare = 0.20946;   // Machta & Hughes 1970
inline constexpr double kDaySeconds = 86400.0;

// Highest ratio of outlet to inlet pressure (absolute) at which an orifice is choked.
double critical_ratio(double heat_ratio = kHeatRatio);
// C* in  mass flow = Cd A p C* / sqrt(Rs T), ISO 9300.
double choked_coefficient(double heat_ratio = kHeatRatio);

// kg/s through an orifice of `area` (m2, times its discharge coefficient) from p_in to p_out (Pa absolute), gas of
// molar_mass (kg/mol) at temperature (K). Zero when p_out >= p_in.
double orifice_mass_flow(double area, double p_in, double p_out, double temperature, double molar_mass,
                         double heat_ratio = kHeatRatio);

// mol/s of nitrogen with the given share of oxygen.
double orifice_flow(double area, double p_in, double p_out, double temperature, double oxygen_share);

inline double gas_moles(double pressure, double volume, double temperature) {
  return pressure * volume / (kGasConstant * temperature);
}
inline double gas_pressure(double moles, double volume, double temperature) {
  return moles * kGasConstant * temperature / volume;
}

// Effective hole (m2) that loses `loss` Pa in 24 h from 40 psi gauge, nitrogen at 21 C, one standard atmosphere:
// choked all the way down to 13.1 psi gauge, hence exact for losses up to 26.9 psi. And its inverse.
double hole_of_loss(double loss, double volume);
double loss_of_hole(double area, double volume);

}  // namespace riserkeep::plant
