// Is the signal alive? Frozen (bit-identical although it used to move with nearly every reading), noise.
// Range, NE 43 and staleness arrive as the reading's own quality.
#pragma once

#include <optional>

#include "rules/archive.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace riserkeep {

class SignalHealth {
 public:
  void add(const Reading&);
  // Identical for `after` and 12 readings, yet more than half of its readings used to differ from the one
  // before. A coarse instrument, whose quantum hides its noise, repeats its value for hours and is healthy.
  bool frozen(EngineTime now, Duration after) const;
  std::optional<Duration> bad_for(EngineTime now) const;  // no good reading for this long; absent: newest was good
  std::optional<double> noise_ticks() const;  // sd of one reading from successive differences; 30 readings or more
  Why last_why() const { return why_; }
  void keep(Archive& a) {
    a(ticks_, same_since_, same_count_, mean_square_, move_share_, compared_, last_good_, seen_, why_, bad_);
  }

 private:
  std::optional<std::int64_t> ticks_;
  EngineTime same_since_, last_good_;  // last_good_: of the first reading until there is a good one
  std::int64_t same_count_ = 0, compared_ = 0;
  double mean_square_ = 0;           // of successive differences, ticks squared
  double move_share_ = 0;            // share of readings that differ from the one before
  bool seen_ = false, bad_ = false;
  Why why_ = Why::none;
};

}  // namespace riserkeep
