// Seeded randomness of the simulated room: slow wandering for weather and feed, white noise for instruments.
#pragma once

#include <cstdint>
#include <random>

namespace riserkeep::plant {

// Standard normal draws that are the same on every library (std::normal_distribution is not).
class Normal {
 public:
  explicit Normal(std::uint64_t seed) : engine_(seed) {}
  double draw();
  double uniform();  // [0, 1)

 private:
  std::mt19937_64 engine_;
};

// Mean zero, standard deviation one, forgetting itself with the given time (Ornstein & Uhlenbeck 1930).
class Wander {
 public:
  Wander(std::uint64_t seed, double hours);
  void minute();
  double value() const { return value_; }

 private:
  Normal normal_;
  double keep_, fresh_;
  double value_;
};

// Standard normal noise that depends on its three arguments only.
double noise_of(std::uint64_t seed, std::uint64_t channel, std::int64_t instant);

// A different seed for every purpose and place.
std::uint64_t mixed_seed(std::uint64_t seed, std::uint64_t purpose, std::uint64_t place);

// Daily cycle, +1 at 15:00 and -1 at 03:00.
double daily(double hour_of_day);

}  // namespace riserkeep::plant
