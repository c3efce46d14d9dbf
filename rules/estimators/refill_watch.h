// Sees the feed filling a system: start, end, size, rate; counts them; learns the usual ones.
// Detection: rise over 2 min above max(0.25 psi, 6 sigma), or over 10 min above three times that, of
// running medians, so that neither a spike nor the sun on the pipe (0.2 psi in 10 min) counts.
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/estimators/pressure_track.h"
#include "rules/quantities.h"
#include "rules/time.h"
#include "rules/units.h"

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
  // After every good reading. `vented`: a vent of this system was open since the last refill. `gas`: its
  // temperature where measured; without it the cause of a refill stays unknown unless a vent was open.
  void step(const PressureTrack&, EngineTime now, bool vented, std::optional<Temperature> gas = std::nullopt,
            AbsolutePressure atmosphere = kStandardAtmosphere);
  // A gap or a restart: a refill that was running is closed with what was seen of it.
  void break_off();

  bool running() const { return current_.has_value(); }
  const std::optional<Refill>& current() const { return current_; }
  const std::optional<Refill>& last() const { return last_; }       // the last one that has ended
  std::optional<Refill> take_finished();                            // once per refill, for the event
  int begun_within(Duration, EngineTime now) const;                 // weather and vent refills included
  int leak_refills_within(Duration, EngineTime now) const;          // vent refills left out
  std::optional<PressureRate> learned_rise() const;                 // median of the last 15 of 1 psi or more; 3 needed
  Duration run_time_within(Duration, EngineTime now) const;

  void keep(Archive& a) {
    a(current_, last_, finished_, recent_, rises_, flat_since_, smooth_, rest_pressure_, rest_gas_, last_step_);
  }

 private:
  struct Smooth { EngineTime at; GaugePressure p; void keep(Archive& a) { a(at, p); } };
  void look_for_start(EngineTime now, GaugePressure p, PressureChange noise, bool vented,
                      std::optional<Temperature> gas, AbsolutePressure atmosphere);
  void look_for_end(EngineTime now, GaugePressure p, PressureChange noise);
  void finish(GaugePressure p, EngineTime now, PressureChange noise);
  RefillCause cause_of(GaugePressure from, std::optional<Temperature> gas, AbsolutePressure atmosphere) const;
  void remember(EngineTime now, GaugePressure p, bool running);

  std::optional<Refill> current_, last_, finished_;
  std::deque<Refill> recent_;        // newest 200
  std::deque<double> rises_;         // Pa/s, newest 15
  std::optional<EngineTime> flat_since_;
  std::deque<Smooth> smooth_;        // running medians every 10 s: 10 min at rest, 15 min while running
  std::optional<GaugePressure> rest_pressure_;  // after the last refill, and the gas then
  std::optional<Temperature> rest_gas_;
  EngineTime last_step_;
};

}  // namespace riserkeep
