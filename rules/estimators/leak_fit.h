// The regression behind LeakRate: pieces with own intercepts, one shared rate, noise that is correlated in
// time. Generalised least squares for a handful of noise models (correlation time and white share),
// averaged by their restricted likelihoods (tempered by 0.5, as a guard against a noise that is none of
// them); the interval carries each model's own variance, the spread between them, and Student's t.
#pragma once

#include <optional>
#include <span>

namespace riserkeep {

struct LeakBlock {
  double days = 0;     // from any fixed origin, growing
  double y = 0;        // P0 ln(p_abs), or P0 ln(p_abs / T) where the gas temperature is measured; psi
  int piece = 0;
};

struct LeakModel {
  bool temperature = false;  // else a daily and a half-daily wave of 4 K are fitted jointly, with that prior
  bool barometer = false;    // else 0.12 psi of weather over 2.5 days is allowed for (estimation of mid latitudes)
};

struct LeakFit {
  double rate = 0;           // psi per day of y, positive = loss
  double half95 = 0;         // half-width of the 95 % interval
};

// Absent: fewer than 3 blocks that share a piece with another, or no time between them.
std::optional<LeakFit> fit_leak(std::span<const LeakBlock> blocks, LeakModel model);

}  // namespace riserkeep
