// Sees the feed filling a system: start, end, size, rate; counts them; learns the usual ones.
// Detection: rise over 2 min above max(0.25 psi, 6 sigma), or over 10 min above three times that.
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/estimators/pressure_track.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

struct Refill {
  EngineTime began;
  std::optional<EngineTime> ended;   // set once the rise is over and nothing followed for a minute
  GaugePressure from, to;            // at the start; at the end, or highest so far
  RefillCause cause = RefillCause::unknown;
  void keep(Archive& a) { a(began, ended, from, to, cause); }
};

class RefillWatch {
 public:
  // After every good reading. `vented`: a vent of this system was open since the last refill.
  void step(const PressureTrack&, EngineTime now, bool vented);

  bool running() const { return current_.has_value(); }
  const std::optional<Refill>& current() const { return current_; }
  const std::optional<Refill>& last() const { return last_; }       // the last one that has ended
  std::optional<Refill> take_finished();                            // once per refill, for the event
  int begun_within(Duration, EngineTime now) const;                 // weather and vent refills included
  int leak_refills_within(Duration, EngineTime now) const;          // vent refills left out
  std::optional<PressureRate> learned_rise() const;                 // median of the last 15 full refills
  Duration run_time_within(Duration, EngineTime now) const;

  void keep(Archive& a);

 private:
  std::optional<Refill> current_, last_, finished_;
  std::deque<Refill> recent_;        // newest 200
  std::deque<double> rises_;         // Pa/s, newest 15
  std::optional<EngineTime> flat_since_;
};

}  // namespace riserkeep
