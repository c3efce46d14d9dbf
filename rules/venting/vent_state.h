// What the vent decision knows about one system: plain data, kept over restarts, read by rules, pages
// and `why`.
#pragma once

#include <deque>
#include <optional>
#include <string>
#include <vector>

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

// A stretch of a venting for the ledger. Pressures in Pa absolute, at 20 C where the gas is measured.
struct VentPiece {
  EngineTime from;
  std::optional<EngineTime> until;           // absent: still running
  double p0 = 0, p1 = 0;
  bool fed = false;                          // a refill ran
  double y_sum = 0;                          // fractions, over the stretch delayed by the line's lag
  int y_count = 0;
  void keep(Archive& a) { a(from, until, p0, p1, fed, y_sum, y_count); }
};

// The venting (or pulse) under way, and what is watched after its close.
struct VentFollow {
  std::deque<VentPiece> pieces;
  std::optional<EngineTime> closed_at;
  std::optional<double> refill_from;         // Pa as above, of a refill not yet in the ledger
  double y_sum = 0, y_weight = 0;            // of this venting, weighted with the share vented
  int misses = 0;                            // readings running without the expected fall
  bool effect_seen = false, refill_since_close = false;
  std::string close_why;
  std::optional<double> last_y;              // mean oxygen of the last venting, fraction
  std::optional<EngineTime> rested_at;       // when the ledger last looked at the resting pipe
  void keep(Archive& a) {
    a(pieces, closed_at, refill_from, y_sum, y_weight, misses, effect_seen, refill_since_close, close_why, last_y, rested_at);
  }
};

// The pulse of a commissioning: mean pressures at its start, Pa gauge, of all systems.
struct VentPulse {
  std::string by;
  std::vector<double> before;
  EngineTime ended;
  double k = 0;
  bool moved = false;
  int tries = 0;                             // pulses before this one that the feed has spoilt
  void keep(Archive& a) { a(by, before, ended, k, moved, tries); }
};

// A commissioning that waits for the next free turn.
struct PulseAsked {
  std::string by, waits_for;
  EngineTime since;
  int tries = 0;
  void keep(Archive& a) { a(by, waits_for, since, tries); }
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
  int confirmed_again = 0;                   // the same, above it by what starts a new purge
  std::optional<OxygenFraction> first_rested;  // of the proof under way
  void keep(Archive& a) { a(indicated, indicated_at, rested, rested_at, by_hand, by_hand_at, grade, verified_at, was_at_target, confirmed_below, confirmed_again, first_rested); }
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
  std::deque<EngineTime> openings, closings; // of the last 24 h
  Duration open_time_today{};
  VentFindings findings;
  PurityState purity;
  VentFollow follow;
  VentPulse pulse;
  std::optional<EngineTime> last_refill_learned;   // its beginning
  std::optional<EngineTime> waits_since;           // wants a turn since then
  // In watch: the ledger has been followed from the pulse's pipe of air, the feed sampled, since then.
  std::optional<EngineTime> ledger_unbroken;
  std::optional<PulseAsked> pulse_asked;
  void keep(Archive& a) {
    a(mode, commissioning, phase, phase_since, locked, locked_why, opened_at, off_deadline, last_venting_ended, stage,
      stage_since, purge_began, earliest_next, keep_since, last_sample, ledger, cut_in_seen, dwell, exhausted_running,
      pauses, need_fraction, openings, open_time_today, findings, purity, follow, pulse,
      last_refill_learned, waits_since, closings, ledger_unbroken,
      pulse_asked);
  }
};

// Output as last seen.
struct OutputSeen {
  OutputState state = OutputState::unknown;
  bool commanded_open = false;
  OrderNo newest_order{}, command_order{};   // the newest of all; the newest that is no renewal
  std::optional<EngineTime> ordered_at, confirmed_at;
  void keep(Archive& a) { a(state, commanded_open, newest_order, command_order, ordered_at, confirmed_at); }
};

// A supply as the vent decision sees it.
struct SupplyState {
  std::optional<OxygenFraction> oxygen;      // last measured, span-corrected
  EngineTime oxygen_at;
  void keep(Archive& a) { a(oxygen, oxygen_at); }
};

enum class SampleJob : std::uint8_t { none, venting, rested, feed, air };

// An analyser: what it draws from, since when, and its span from the last air check.
struct AnalyserState {
  std::optional<PlaceId> sampling;           // port or vent that is open
  EngineTime sampling_since;
  double span = 1.0;                         // multiplies raw readings
  std::optional<EngineTime> air_checked;
  bool air_check_failed = false;
  SampleJob job = SampleJob::none;
  double sum = 0;                            // of the sample under way, fractions
  int count = 0;
  EngineTime began;                          // of the job
  std::optional<EngineTime> not_before;      // after a job that failed
  void keep(Archive& a) {
    a(sampling, sampling_since, span, air_checked, air_check_failed, job, sum, count, began, not_before);
  }
};

}  // namespace riserkeep
