#include <algorithm>

#include "rules/analyser.h"
#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr Duration kGrace = seconds(5);      // an observation may have crossed an order on the way
constexpr Duration kAfterRefused = minutes(10);

void vent_observed(const Inside& in, SystemId id, const OutputObserved& o) {
  VentState& v = in.vent(id);
  OutputSeen& seen = in.output(o.output);
  const bool crossed = seen.ordered_at && in.now() - *seen.ordered_at < kGrace && o.outcome == OutputOutcome::found;
  if (o.state == OutputState::unknown) return close_vent(in, id, "the output does not answer");
  const bool open = o.state == OutputState::open;
  if (open == seen.commanded_open) {
    if (open) vent_confirmed(in, id);
    else if (v.findings.mismatch && !v.locked) v.findings.mismatch.reset();
    return;
  }
  if (crossed) return;
  if (open) {
    order_vent(in, id, false, "found open while ordered shut");
    return found_mismatch(in, id, "ordered shut, found open");
  }
  v.earliest_next = std::max(v.earliest_next.value_or(in.now()), in.now() + kAfterRefused);
  if (v.phase == VentPhase::pulsing) return pulse_failed(in, id, "the vent was found shut");
  close_vent(in, id, o.outcome == OutputOutcome::found ? "found shut while ordered open" : "the output did not carry the order out");
  if (o.outcome == OutputOutcome::found) found_mismatch(in, id, "ordered open, found shut");
}

void port_observed(const Inside& in, const Output& port) {
  if (!port.analyser) return;
  AnalyserState& a = in.analyser(*port.analyser);
  if (a.sampling == port.place) a.sampling_since = in.now();   // the line flushes from here
}

void say_outcome(const Inside& in, const OutputObserved& o) {
  if (in.site()[o.output].kind != OutputKind::vent || o.outcome == OutputOutcome::found) return;
  const VentChange change = o.outcome == OutputOutcome::confirmed ? VentChange::confirmed
                            : o.outcome == OutputOutcome::refused ? VentChange::refused : VentChange::expired;
  in.out.push_back({in.now(), VentEvent{o.output, change, o.order, o.state == OutputState::open ? "read back open" : o.state == OutputState::shut ? "read back shut" : "not read back"}});
}

bool refuse(std::string& why_not, std::string why) {
  why_not = std::move(why);
  return false;
}

void take_far_end(const Inside& in, SystemId id, const HandReading& r) {
  VentState& v = in.vent(id);
  const OxygenFraction x = std::max(r.oxygen, v.purity.rested.value_or(r.oxygen));
  v.ledger.hand_reading(r.oxygen, v.purity.rested);
  const auto target = target_of(in.view, id);
  if (v.stage == PurgeStage::stalled) {
    v.stage = PurgeStage::venting;
    v.findings.stalled.reset();
    v.exhausted_running = v.pauses = 0;
  }
  if (!target || x > *target) return;
  v.purity.grade = Grade::verified_at_far_end;
  v.purity.verified_at = in.now();
  v.purity.was_at_target = true;
  v.purity.confirmed_below = v.purity.confirmed_again = 0;
  if (v.mode != Mode::purge) return;
  v.mode = Mode::keep;
  v.stage = PurgeStage::verified;
  v.keep_since = in.now();
}

}  // namespace

void Venting::output_observed(const SiteView& view, std::vector<Twin>& twins, const OutputObserved& o, Effects& out) {
  const Inside in{view, state_, out, &twins};
  OutputSeen& seen = in.output(o.output);
  say_outcome(in, o);
  if (o.outcome != OutputOutcome::found && o.order < seen.command_order) return;   // answers an older order
  const OutputState before = seen.state;
  seen.state = o.state;
  if (o.state != OutputState::unknown && (o.state == OutputState::open) == seen.commanded_open) seen.confirmed_at = view.now;
  const Output& output = view.site[o.output];
  if (output.kind == OutputKind::vent && output.place.kind == PlaceKind::system) vent_observed(in, SystemId{output.place.index}, o);
  if (output.kind == OutputKind::sample_port && o.state == OutputState::open && before != OutputState::open) port_observed(in, output);
}

bool Venting::set_mode(const SiteView& view, SystemId id, Mode mode, std::string_view who, Effects& out, std::string& why_not) {
  const Inside in{view, state_, out};
  VentState& v = in.vent(id);
  const System& s = view.site[id];
  if (mode != Mode::watch) {
    if (!s.purity) return refuse(why_not, "there is no purity target here: add purity: {target: 98 %, analyser: ...}");
    if (!s.vent) return refuse(why_not, "there is no vent here");
    if (!v.commissioning.done) return refuse(why_not, "the vent is not commissioned" + (v.commissioning.voided_why.empty() ? std::string() : ": " + v.commissioning.voided_why));
  }
  drop_pulse(in, id, "the mode was set");
  if (v.mode == mode) return true;
  const Mode before = v.mode;
  v.mode = mode;
  const bool unbroken = v.ledger_unbroken.has_value();
  v.ledger_unbroken.reset();
  if (mode == Mode::watch) {
    close_vent(in, id, "mode watch");
    v.stage = PurgeStage::none;
  } else if (mode == Mode::keep) {
    close_vent(in, id, "mode keep");
    v.stage = v.purity.verified_at ? PurgeStage::verified : PurgeStage::none;
    v.keep_since = view.now;
  } else {
    if (before == Mode::watch && !unbroken) v.ledger.begin();
    if (before == Mode::watch && s.purity->purge_started) v.ledger.take_over();
    v.follow.last_y.reset();
    begin_purge(in, id, "ordered");
  }
  in.note(id, "mode " + std::string(word(mode)) + " by " + std::string(who));
  return true;
}

bool Venting::commission(const SiteView& view, const Commission& c, std::string_view who, Effects& out, std::string& why_not) {
  const Inside in{view, state_, out};
  return begin_pulse(in, c, who, why_not);
}

bool Venting::lock(const SiteView& view, const LockOut& c, std::string_view who, Effects& out, std::string& why_not) {
  const Inside in{view, state_, out};
  VentState& v = in.vent(c.system);
  if (!view.site[c.system].vent) return refuse(why_not, "there is no vent here");
  if (c.locked) {
    close_vent(in, c.system, "locked by " + std::string(who));
    drop_pulse(in, c.system, "the vent was locked");
  }
  v.locked = c.locked;
  v.locked_why = c.locked ? (c.why.empty() ? std::string("locked") : c.why) + " (by " + std::string(who) + ")" : std::string();
  if (!c.locked) {
    v.findings.blocked.reset();
    v.findings.stuck_open.reset();
    v.findings.mismatch.reset();
  }
  in.note(c.system, (c.locked ? "vent locked by " : "vent unlocked by ") + std::string(who) + (c.why.empty() ? "" : ": " + c.why));
  return true;
}

bool Venting::hand_reading(const SiteView& view, const HandReading& r, std::string_view who, Effects& out, std::string& why_not) {
  const Inside in{view, state_, out};
  if (r.kind == HandReadingKind::air_check) {
    std::optional<AnalyserId> a;
    if (r.place.kind == PlaceKind::analyser) a = AnalyserId{r.place.index};
    if (r.place.kind == PlaceKind::system && view.site[SystemId{r.place.index}].purity) a = view.site[SystemId{r.place.index}].purity->analyser;
    if (!a) return refuse(why_not, "an air check is of an analyser: name it, or a system that has one");
    const bool good = take_air_check(in.analyser(*a), r.oxygen, view.now);
    in.note(PlaceId{PlaceKind::analyser, a->index}, "air check by " + std::string(who) + ": " + percent_text(r.oxygen) + (good ? "" : ", failed"));
    return true;
  }
  if (r.place.kind != PlaceKind::system) return refuse(why_not, "a hand reading is of a system");
  if (r.meter.empty()) return refuse(why_not, "which meter? a reading counts with person and meter only");
  const SystemId id{r.place.index};
  VentState& v = in.vent(id);
  v.purity.by_hand = r.oxygen;
  v.purity.by_hand_at = view.now;
  in.note(id, "hand reading at the " + std::string(r.kind == HandReadingKind::far_end ? "far end" : "riser") + " by " + std::string(who) + " with " + r.meter + ": " + percent_text(r.oxygen));
  if (r.kind == HandReadingKind::far_end) take_far_end(in, id, r);
  return true;
}

}  // namespace riserkeep
