// The trade's units to and from SI. Conversions happen at the edges only; factors per NIST SP 811,
// appendix B (exact by definition where marked).
#pragma once

#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

inline constexpr double kPascalPerPsi = 6894.757293168361;
inline constexpr double kPascalPerBar = 1e5;                       // exact
inline constexpr double kCubicMetrePerGallon = 0.003785411784;     // exact, US gallon
inline constexpr double kCubicMetrePerCubicFoot = 0.028316846592;  // exact
inline constexpr double kMetrePerFoot = 0.3048;                    // exact
inline constexpr double kKelvinAtZeroCelsius = 273.15;             // exact
inline constexpr AbsolutePressure kStandardAtmosphere = AbsolutePressure::from_si(101325.0);  // exact

constexpr PressureChange psi(double v) { return PressureChange::from_si(v * kPascalPerPsi); }
constexpr GaugePressure psig(double v) { return GaugePressure{psi(v)}; }
constexpr AbsolutePressure psia(double v) { return AbsolutePressure{psi(v)}; }
constexpr double in_psi(PressureChange p) { return p.si() / kPascalPerPsi; }
constexpr double in_psi(GaugePressure p) { return p.si() / kPascalPerPsi; }
constexpr double in_psi(AbsolutePressure p) { return p.si() / kPascalPerPsi; }

constexpr PressureRate psi_per_day(double v) { return PressureRate::from_si(v * kPascalPerPsi / 86400.0); }
constexpr PressureRate psi_per_minute(double v) { return PressureRate::from_si(v * kPascalPerPsi / 60.0); }
constexpr double in_psi_per_day(PressureRate r) { return r.si() * 86400.0 / kPascalPerPsi; }
constexpr double in_psi_per_minute(PressureRate r) { return r.si() * 60.0 / kPascalPerPsi; }

constexpr Temperature celsius(double v) { return Temperature::from_si(v + kKelvinAtZeroCelsius); }
constexpr Temperature fahrenheit(double v) { return celsius((v - 32.0) / 1.8); }
constexpr double in_celsius(Temperature t) { return t.si() - kKelvinAtZeroCelsius; }
constexpr double in_fahrenheit(Temperature t) { return in_celsius(t) * 1.8 + 32.0; }

constexpr Volume gallons(double v) { return Volume::from_si(v * kCubicMetrePerGallon); }
constexpr Volume cubic_feet(double v) { return Volume::from_si(v * kCubicMetrePerCubicFoot); }
constexpr Volume litres(double v) { return Volume::from_si(v * 1e-3); }
constexpr Length millimetres(double v) { return Length::from_si(v * 1e-3); }

constexpr OxygenFraction oxygen_percent(double v) { return OxygenFraction::clamped(v / 100.0); }

constexpr PressureRate operator/(PressureChange p, Duration d) {
  return PressureRate::from_si(p.si() / in_seconds(d));
}
constexpr PressureChange operator*(PressureRate r, Duration d) {
  return PressureChange::from_si(r.si() * in_seconds(d));
}

}  // namespace riserkeep
