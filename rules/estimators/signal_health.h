// Is the signal alive? Frozen (bit-identical although the quantum is below half the noise), noisy.
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
  bool frozen(EngineTime now, Duration after) const;   // identical for `after` and 12 readings, yet it used to move
  std::optional<Duration> bad_for(EngineTime now) const;  // no good reading for this long; absent: newest was good
  Why last_why() const { return why_; }
  void keep(Archive& a) { a(ticks_, same_since_, same_count_, mean_square_, moves_, last_good_, seen_, why_, bad_); }

 private:
  std::optional<std::int64_t> ticks_;
  EngineTime same_since_, last_good_;
  std::int64_t same_count_ = 0, moves_ = 0;
  double mean_square_ = 0;           // of successive differences, ticks squared
  bool seen_ = false, bad_ = false;
  Why why_ = Why::none;
};

}  // namespace riserkeep
