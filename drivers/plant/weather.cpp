#include "drivers/plant/weather.h"

#include <cmath>
#include <numbers>

namespace riserkeep::plant {

namespace {
// Finaliser of SplitMix64 (Steele, Lea & Flood 2014).
std::uint64_t scramble(std::uint64_t z) {
  z += 0x9e3779b97f4a7c15U;
  z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
  z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
  return z ^ (z >> 31U);
}
double unit(std::uint64_t bits) { return static_cast<double>(bits >> 11U) * 0x1p-53; }

double box_muller(double u, double v) {
  return std::sqrt(-2.0 * std::log(1.0 - u)) * std::cos(2.0 * std::numbers::pi * v);
}
}  // namespace

double Normal::uniform() { return unit(engine_()); }

double Normal::draw() {
  const double u = uniform();
  return box_muller(u, uniform());
}

Wander::Wander(std::uint64_t seed, double hours)
    : normal_(seed),
      keep_(std::exp(-1.0 / (60.0 * hours))),
      fresh_(std::sqrt(1.0 - keep_ * keep_)),
      value_(normal_.draw()) {}

void Wander::minute() { value_ = keep_ * value_ + fresh_ * normal_.draw(); }

std::uint64_t mixed_seed(std::uint64_t seed, std::uint64_t purpose, std::uint64_t place) {
  return scramble(scramble(scramble(seed) ^ purpose) ^ place);
}

double noise_of(std::uint64_t seed, std::uint64_t channel, std::int64_t instant) {
  const std::uint64_t bits = mixed_seed(seed, channel, static_cast<std::uint64_t>(instant));
  return box_muller(unit(bits), unit(scramble(bits)));
}

double daily(double hour) { return std::cos(2.0 * std::numbers::pi * (hour - 15.0) / 24.0); }

}  // namespace riserkeep::plant
