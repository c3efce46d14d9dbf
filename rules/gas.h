// Gas in a pipe: ideal gas, orifice flow, free-gas volume, swings and sweeps. Sources beside each.
#pragma once

#include "rules/quantities.h"
#include "rules/time.h"
#include "rules/units.h"

namespace riserkeep {

inline constexpr double kGasConstant = 8.314462618;     // J/(mol K), SI 2019
inline constexpr double kMolarMassN2 = 0.0280134;       // kg/mol
inline constexpr double kGammaDiatomic = 1.4;
inline constexpr Temperature kReference60F = fahrenheit(60);  // of free-gas volumes unless said, with 1 atm

Amount gas_amount(AbsolutePressure p, Volume v, Temperature t);                // n = pV/RT
Volume free_gas(Amount n, Temperature reference = kReference60F, AbsolutePressure p = kStandardAtmosphere);
MolarFlow from_scfm(double scfm, Temperature reference = kReference60F);
double in_scfh(MolarFlow, Temperature reference = kReference60F);
double in_std_litres_per_minute(MolarFlow, Temperature reference = kReference60F);

double critical_ratio(double gamma);                     // p*/p0 = (2/(g+1))^(g/(g-1))
double critical_flow_factor(double gamma);               // C* = sqrt(g) (2/(g+1))^((g+1)/(2(g-1)))
// kg/s through an area with discharge coefficient cd; choked below the critical ratio, else subsonic.
double orifice_mass_flow(double cd, Area a, AbsolutePressure up, AbsolutePressure down, Temperature t,
                         double molar_mass = kMolarMassN2, double gamma = kGammaDiatomic);
Area circle(Length diameter);
// Share of the content vented per second through a bore while choked: k = Cd A C* sqrt(Rs T) / V.
double choked_share_per_second(double cd, Area a, Volume v, Temperature t);
AbsolutePressure standard_atmosphere_at(double metres);  // US Standard Atmosphere 1976, troposphere

double swing(double x, double feed, AbsolutePressure low, AbsolutePressure high);          // one swing, mixed
double swings_needed(double from, double to, double feed, AbsolutePressure low, AbsolutePressure high);
double sweep_volumes(double from, double to, double feed);                                 // well mixed; inf if never

}  // namespace riserkeep
