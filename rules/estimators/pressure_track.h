// The last minutes of one system's pressure, good readings only: means, slopes and noise over short
// windows, for rapid-loss, the venting's effect check and the refill detector. Bounded memory.
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class PressureTrack {
 public:
  struct Sample {
    EngineTime at;
    GaugePressure pressure;
    void keep(Archive& a) { a(at, pressure); }
  };

  void add(EngineTime at, GaugePressure p);  // a reading no newer than the newest is left out
  void break_off();                  // a gap or a restart: nothing before it may be compared with what follows

  const std::deque<Sample>& samples() const { return samples_; }  // oldest first, at most 15 min and 600
  std::optional<Sample> newest() const;
  std::optional<GaugePressure> mean(EngineTime after, EngineTime until) const;   // after < t <= until
  std::optional<GaugePressure> mean_of_last(std::size_t n, EngineTime until) const;  // exactly n, at most 2 min old
  std::optional<GaugePressure> median_of_last(std::size_t n) const;              // exactly n: one spike cannot move it
  std::optional<PressureRate> slope(EngineTime after, EngineTime until) const;   // least squares, 3 or more
  // sd of one reading from second differences, so that a steady fall or rise is not taken for noise. Floor:
  // tick / sqrt(12); 0.05 psi (common practice) until ten differences have been seen.
  PressureChange noise() const;

  void keep(Archive& a) { a(samples_, mean_square_difference_, differences_); }

 private:
  using Position = std::deque<Sample>::const_iterator;
  Position first_after(EngineTime t) const;
  void learn_noise();

  std::deque<Sample> samples_;
  double mean_square_difference_ = 0;  // Pa2, of second differences, slowly forgetting
  std::int64_t differences_ = 0;
};

}  // namespace riserkeep
