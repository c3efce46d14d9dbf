// What the vent decision knows about one system: plain data, kept over restarts, read by rules, pages
// and `why`.
#pragma once

#include <deque>
#include <optional>
#include <string>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/estimators/ledger.h"
#include "rules/ids.h"
#include "rules/input.h"
#include "rules/time.h"

namespace riserkeep {

enum class VentPhase : std::uint8_t {
  idle,       // shut, no turn
  flushing,   // port on, vent shut, line filling with this system's gas
  opening,    // ordered open, not read back yet
  venting,    // open
  closing,    // ordered shut, not proved shut yet
  refilling,  // shut, the feed is making up; the turn is still this system's
  sampling,   // port on, vent shut, a rested sample is being taken
  pulsing,    // commissioning pulse
};

enum class PurgeStage : std::uint8_t { none, venting, pausing, resting_first, resting_second, stalled, verified };

// Found by following the vent; the vent_follow and purge rules turn these into alarms.
struct VentFindings {
  std::optional<EngineTime> blocked, stuck_open, mismatch, stalled;  // since when
  std::string blocked_why, stuck_why, mismatch_why, stall_why;
  void keep(Archive& a) { a(blocked, stuck_open, mismatch, stalled, blocked_why, stuck_why, mismatch_why, stall_why); }
};

struct Commissioning {
  bool done = false;
  std::string by, voided_why;
  EngineTime at;
  double fall_share_per_s = 0;       // k: share of the absolute pressure vented per second, feed off
  double refill_pa_per_s = 0;        // 0 = not learned
  std::uint64_t wiring_hash = 0;     // of vent, transducer, valve and bore: a change voids it
  void keep(Archive& a) { a(done, by, voided_why, at, fall_share_per_s, refill_pa_per_s, wiring_hash); }
};

// The newest purity with place, method, age and grade.
struct PurityState {
  std::optional<OxygenFraction> indicated;   // while flowing
  EngineTime indicated_at;
  std::optional<OxygenFraction> rested;      // after a rest
  EngineTime rested_at;
  std::optional<OxygenFraction> by_hand;
  EngineTime by_hand_at;
  Grade grade = Grade::unknown;
  std::optional<EngineTime> verified_at;
  bool was_at_target = false;
  int confirmed_below = 0;                   // samples an hour apart above the target's oxygen by the deadband
  void keep(Archive& a) { a(indicated, indicated_at, rested, rested_at, by_hand, by_hand_at, grade, verified_at, was_at_target, confirmed_below); }
};

struct VentState {
  Mode mode = Mode::watch;
  Commissioning commissioning;
  VentPhase phase = VentPhase::idle;
  EngineTime phase_since;
  bool locked = false;                       // by a person, or by a finding
  std::string locked_why;
  std::optional<EngineTime> opened_at, off_deadline;
  std::optional<EngineTime> last_venting_ended;
  PurgeStage stage = PurgeStage::none;
  EngineTime stage_since;
  std::optional<EngineTime> purge_began, earliest_next;
  std::optional<EngineTime> keep_since, last_sample;
  OxygenLedger ledger;
  GaugePressure cut_in_seen;
  Duration dwell{};
  int exhausted_running = 0, pauses = 0;
  double need_fraction = 1.0;                // x must be at most this before the next rest
  std::deque<EngineTime> openings;           // of the last 24 h
  Duration open_time_today{};
  VentFindings findings;
  PurityState purity;
  void keep(Archive& a) {
    a(mode, commissioning, phase, phase_since, locked, locked_why, opened_at, off_deadline, last_venting_ended, stage,
      stage_since, purge_began, earliest_next, keep_since, last_sample, ledger, cut_in_seen, dwell, exhausted_running,
      pauses, need_fraction, openings, open_time_today, findings, purity);
  }
};

// Output as last seen.
struct OutputSeen {
  OutputState state = OutputState::unknown;
  bool commanded_open = false;
  OrderNo newest_order{};
  std::optional<EngineTime> ordered_at, confirmed_at;
  void keep(Archive& a) { a(state, commanded_open, newest_order, ordered_at, confirmed_at); }
};

// A supply as the vent decision sees it.
struct SupplyState {
  std::optional<OxygenFraction> oxygen;      // last measured, span-corrected
  EngineTime oxygen_at;
  void keep(Archive& a) { a(oxygen, oxygen_at); }
};

// An analyser: what it draws from, since when, and its span from the last air check.
struct AnalyserState {
  std::optional<PlaceId> sampling;           // port or vent that is open
  EngineTime sampling_since;
  double span = 1.0;                         // multiplies raw readings
  std::optional<EngineTime> air_checked;
  bool air_check_failed = false;
  void keep(Archive& a) { a(sampling, sampling_since, span, air_checked, air_check_failed); }
};

}  // namespace riserkeep
