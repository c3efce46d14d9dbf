// One alarm at one place through the states of ISA-18.2-2016 / IEC 62682:2014 (states from memory):
// normal, unacknowledged, acknowledged, returned-unacknowledged, latched (un)acknowledged.
// Delays are proven time: only good evidence lets them grow; "cannot tell" freezes everything.
// Re-alarm: what is raised again after its return is a new occurrence; what is acknowledged and stands on for
// long is unacknowledged again, as the same occurrence (ISA-18.2 transitions "re-alarm", from memory).
#pragma once

#include <optional>
#include <string>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/ids.h"
#include "rules/judge/classes.h"
#include "rules/judge/rule.h"

namespace riserkeep {

// What a person types to acknowledge: 3 characters or more, none that is read for another (no 0, O, 1, I).
// One to one with the occurrence; neighbours look unlike.
std::string reference_of(OccurrenceId);
// "7k6" -> "7K6". Blanks are dropped; absent when a character is none of the alphabet.
std::optional<std::string> parse_reference(std::string_view typed);

// Proven time for which an acknowledged alarm may stand before it asks again: a shift for critical ones, a day
// (when ISA-18.2 calls an alarm stale, from memory) for high ones; the others never. Common practice.
std::optional<Duration> realarm_after(Priority);

class AlarmLifecycle {
 public:
  // The change this verdict brings, if any: raised, cleared, priority_changed or realarmed. A raise takes `next` as
  // its occurrence and counts it on.
  std::optional<AlarmChange> step(const AlarmClass&, const Verdict&, EngineTime at, Duration observed, std::uint64_t& next);
  bool acknowledge(std::string_view who);              // false: nothing waits for it
  // Of a latched alarm whose condition is gone; counts as its acknowledgement.
  bool release(std::string_view who);

  AlarmState state() const { return state_; }
  bool condition() const { return state_ == AlarmState::unacknowledged || state_ == AlarmState::acknowledged; }
  bool latched() const { return state_ == AlarmState::latched_unacknowledged || state_ == AlarmState::latched_acknowledged; }
  bool standing() const { return condition() || latched(); }
  bool open() const { return state_ != AlarmState::normal; }
  bool pending() const { return pending_ && !condition(); }
  bool idle() const { return !open() && !pending_; }   // nothing to keep
  bool clearing() const { return condition() && proven_off_ > Duration{}; }  // off-delay runs
  bool unproven() const { return unproven_; }          // the newest verdict could not tell

  OccurrenceId id() const { return id_; }
  Priority priority() const { return priority_; }
  EngineTime since() const { return since_; }          // when the condition of this occurrence was first seen
  const std::optional<double>& value() const { return value_; }
  const std::optional<double>& limit() const { return limit_; }
  std::string_view unit() const { return unit_; }
  std::string_view cause() const { return cause_; }
  std::string_view who() const { return who_; }        // acknowledged or released by

  void keep(Archive& a) {
    a(state_, pending_, unproven_, id_, priority_, since_, pending_since_, proven_on_, proven_off_, proven_rise_,
      proven_acked_, value_, limit_, unit_, cause_, who_);
  }

 private:
  std::optional<AlarmChange> on_raise(const AlarmClass&, const Raise&, EngineTime at, Duration observed, std::uint64_t& next);
  std::optional<AlarmChange> on_clear(const AlarmClass&, Duration observed);
  std::optional<AlarmChange> stand_on(Duration observed);
  std::optional<AlarmChange> rise(const AlarmClass&, const Raise&, Priority asked, Duration observed);
  void take(const AlarmClass&, const Raise&);

  AlarmState state_ = AlarmState::normal;
  bool pending_ = false, unproven_ = false;
  OccurrenceId id_{};
  Priority priority_{};
  EngineTime since_, pending_since_;
  Duration proven_on_{}, proven_off_{}, proven_rise_{}, proven_acked_{};
  std::optional<double> value_, limit_;
  std::string unit_, cause_, who_;
};

}  // namespace riserkeep
