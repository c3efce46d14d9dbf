// Typed physical quantities, SI inside. A difference (Quantity) and a point on a scale (Point) are
// different types, so that a gauge pressure cannot be added to another one, nor compared with an
// absolute one, nor with a bare number.
#pragma once

#include <compare>
#include <optional>

namespace riserkeep {

// A difference of one kind in one SI unit.
template <class Kind>
class Quantity {
 public:
  constexpr Quantity() = default;
  static constexpr Quantity from_si(double si) { return Quantity{si}; }
  constexpr double si() const { return si_; }

  friend constexpr auto operator<=>(Quantity, Quantity) = default;
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity{a.si_ + b.si_}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity{a.si_ - b.si_}; }
  friend constexpr Quantity operator-(Quantity a) { return Quantity{-a.si_}; }
  friend constexpr Quantity operator*(double f, Quantity a) { return Quantity{f * a.si_}; }
  friend constexpr Quantity operator*(Quantity a, double f) { return Quantity{f * a.si_}; }
  friend constexpr Quantity operator/(Quantity a, double f) { return Quantity{a.si_ / f}; }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.si_ / b.si_; }
  constexpr Quantity& operator+=(Quantity b) { return *this = *this + b; }
  constexpr Quantity& operator-=(Quantity b) { return *this = *this - b; }

 private:
  explicit constexpr Quantity(double si) : si_(si) {}
  double si_ = 0;
};

// A point on a scale whose zero is named by Zero.
template <class Difference, class Zero>
class Point {
 public:
  constexpr Point() = default;
  explicit constexpr Point(Difference from_zero) : from_zero_(from_zero) {}
  static constexpr Point from_si(double si) { return Point{Difference::from_si(si)}; }
  constexpr double si() const { return from_zero_.si(); }
  constexpr Difference from_zero() const { return from_zero_; }

  friend constexpr auto operator<=>(Point, Point) = default;
  friend constexpr Difference operator-(Point a, Point b) { return a.from_zero_ - b.from_zero_; }
  friend constexpr Point operator+(Point a, Difference d) { return Point{a.from_zero_ + d}; }
  friend constexpr Point operator-(Point a, Difference d) { return Point{a.from_zero_ - d}; }

 private:
  Difference from_zero_{};
};

using PressureChange = Quantity<struct PressureKind>;                  // Pa
using PressureRate = Quantity<struct PressureRateKind>;                // Pa/s
using TemperatureChange = Quantity<struct TemperatureKind>;            // K
using Volume = Quantity<struct VolumeKind>;                            // m3
using Amount = Quantity<struct AmountKind>;                            // mol
using MolarFlow = Quantity<struct MolarFlowKind>;                      // mol/s
using Length = Quantity<struct LengthKind>;                            // m
using Area = Quantity<struct AreaKind>;                                // m2

using GaugePressure = Point<PressureChange, struct LocalAtmosphere>;   // Pa above the local atmosphere
using AbsolutePressure = Point<PressureChange, struct Vacuum>;         // Pa above vacuum
using Temperature = Point<TemperatureChange, struct AbsoluteZero>;     // K

constexpr AbsolutePressure to_absolute(GaugePressure g, AbsolutePressure atmosphere) {
  return atmosphere + g.from_zero();
}
constexpr GaugePressure to_gauge(AbsolutePressure p, AbsolutePressure atmosphere) {
  return GaugePressure{p - atmosphere};
}

// Oxygen by volume, 0 to 1. Purity is what is left: argon counts as nitrogen.
class OxygenFraction {
 public:
  constexpr OxygenFraction() = default;
  static constexpr std::optional<OxygenFraction> from_fraction(double f) {
    if (!(f >= 0.0 && f <= 1.0)) return std::nullopt;
    return OxygenFraction{f};
  }
  // For values that are in range by construction; clamps.
  static constexpr OxygenFraction clamped(double f) { return OxygenFraction{f < 0 ? 0 : f > 1 ? 1 : f}; }
  constexpr double fraction() const { return fraction_; }
  constexpr double percent() const { return 100.0 * fraction_; }
  constexpr double purity_percent() const { return 100.0 - percent(); }
  friend constexpr auto operator<=>(OxygenFraction, OxygenFraction) = default;

 private:
  explicit constexpr OxygenFraction(double f) : fraction_(f) {}
  double fraction_ = 0;
};

inline constexpr OxygenFraction kAirOxygen = OxygenFraction::clamped(0.20946);  // Machta & Hughes 1970

}  // namespace riserkeep
