#include "rules/venting/explain.h"

#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

std::string in_time(const SiteView& view, EngineTime at) {
  return at > view.now ? "in " + duration_text(at - view.now) : "now";
}

std::string working(const VentState& v) {
  switch (v.phase) {
    case VentPhase::flushing: return "Its sample line is being flushed; the vent opens next.";
    case VentPhase::opening: return "The vent has been ordered open and is not read back yet.";
    case VentPhase::venting: return "The vent is open.";
    case VentPhase::closing: return "The vent is shut; the pressure is watched to prove it (" + v.follow.close_why + ").";
    case VentPhase::refilling: return "The vent is shut; the feed is making up what left.";
    case VentPhase::sampling: return "A rested sample is being taken.";
    case VentPhase::pulsing: return "The commissioning pulse is under way.";
    case VentPhase::idle: break;
  }
  return {};
}

std::string resting(const SiteView& view, SystemId id) {
  const auto due = next_sample(view, id);
  if (!due) return {};
  if (view.now < *due) return "It rests; the next sample is due " + in_time(view, *due) + ".";
  if (!port_known(view, id)) return "A rested sample is due, but the analyser has no port here: take a hand reading.";
  if (view.vent(id).stage == PurgeStage::resting_second && !sample_due(view, id))
    return "The second rested sample waits for an air check of the analyser and a measured feed.";
  return "A rested sample is due and waits for the analyser.";
}

std::string wanting(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  if (v.earliest_next && view.now < *v.earliest_next)
    return "It rests so that the gas can mix; the next venting may begin " + in_time(view, *v.earliest_next) + ".";
  const auto refusals = permit(view, id, false).refusals();
  if (!refusals.empty()) return "It may not vent: " + std::string(refusals.front().what) + " is " + refusals.front().now + ", needs " + refusals.front().needs + ".";
  return "It is permitted and waits for its turn.";
}

}  // namespace

std::string explain_pulse_asked(const VentState& v) {
  if (!v.pulse_asked) return {};
  return "A commissioning is asked for by " + v.pulse_asked->by + "; it starts at the next free turn (" + v.pulse_asked->waits_for + ")";
}

std::string explain_trip(const SiteView& view, SystemId id) {
  const System& s = view.site[id];
  const auto seen = view.twin(id).water().highest(view.now);
  if (!trip_pressure(s, seen)) return {};
  if (s.valve.trips_at) return "as the site file says";
  const std::string ratio = " over the ratio of " + fixed(s.valve.ratio, 1);
  if (!s.water_pressure) return "highest water pressure in the site file, " + psi_text(s.valve.highest_water) + "," + ratio;
  if (!seen) return "highest water pressure in the site file, " + psi_text(s.valve.highest_water) + "," + ratio + "; none measured in 7 days";
  if (*seen <= s.valve.highest_water)
    return "highest water pressure in the site file, " + psi_text(s.valve.highest_water) + "," + ratio + "; measured in 7 days at most " + psi_text(*seen);
  return "highest water pressure measured in 7 days, " + psi_text(*seen) + "," + ratio;
}

std::string explain_headline(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  if (!view.site[id].vent) return "No vent is configured here; it is watched only.";
  if (v.findings.stuck_open) return "The vent is ordered shut but seems to pass gas; it is locked: " + v.findings.stuck_why + ".";
  if (busy(v)) return working(v);
  if (v.pulse_asked) return explain_pulse_asked(v) + ".";
  if (v.locked) return "The vent is locked: " + v.locked_why + ".";
  if (!v.commissioning.done) return "The vent is not commissioned" + (v.commissioning.voided_why.empty() ? std::string(".") : ": " + v.commissioning.voided_why + ".");
  if (v.mode == Mode::watch) return "It is watched only; its mode is watch.";
  switch (v.stage) {
    case PurgeStage::venting: return wanting(view, id);
    case PurgeStage::pausing: return "The last ventings brought almost nothing; it pauses and looks again " + in_time(view, v.earliest_next.value_or(view.now)) + ".";
    case PurgeStage::stalled: return "The purge has stalled: " + v.findings.stall_why + ".";
    case PurgeStage::none:
    case PurgeStage::verified:
    case PurgeStage::resting_first:
    case PurgeStage::resting_second: break;
  }
  const std::string rest = resting(view, id);
  return rest.empty() ? "Nothing is due." : rest;
}

std::optional<EngineTime> next_look(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  if (v.off_deadline) return v.off_deadline;
  if (busy(v) || v.mode == Mode::watch || v.locked) return std::nullopt;
  if (v.earliest_next && *v.earliest_next > view.now) return v.earliest_next;
  const auto due = next_sample(view, id);
  return due && *due > view.now ? due : std::nullopt;
}

std::string_view word(VentPhase p) {
  switch (p) {
    case VentPhase::idle: return "idle";
    case VentPhase::flushing: return "flushing";
    case VentPhase::opening: return "opening";
    case VentPhase::venting: return "venting";
    case VentPhase::closing: return "closing";
    case VentPhase::refilling: return "refilling";
    case VentPhase::sampling: return "sampling";
    case VentPhase::pulsing: return "commissioning";
  }
  return {};
}

std::string_view word(PurgeStage s) {
  switch (s) {
    case PurgeStage::none: return "none";
    case PurgeStage::venting: return "venting";
    case PurgeStage::pausing: return "pausing";
    case PurgeStage::resting_first: return "first rest";
    case PurgeStage::resting_second: return "second rest";
    case PurgeStage::stalled: return "stalled";
    case PurgeStage::verified: return "verified";
  }
  return {};
}

}  // namespace riserkeep
