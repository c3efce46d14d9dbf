#include <algorithm>
#include <cmath>

#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr Duration kReadBack = seconds(2);
constexpr Duration kAfterRefillStart = seconds(15);
constexpr Duration kAfterRefused = minutes(10);

void enter(const Inside& in, SystemId id, VentPhase phase) {
  in.vent(id).phase = phase;
  in.vent(id).phase_since = in.now();
}

void end_turn(const Inside& in, SystemId id) {
  release_analyser(in, id);
  enter(in, id, VentPhase::idle);
}

std::string first_refusal(const Permit& p) {
  const auto r = p.refusals();
  return r.empty() ? std::string{} : std::string(r.front().what) + ": " + r.front().now;
}

Duration off_after(const Inside& in, SystemId id) {
  const Ladder l = ladder_now(in.view, id);
  const auto open = content_now(in.view, id);
  const double k = share_vented_per_second(in.view, id);
  if (!open || k <= 0) return Duration{};
  const double s = 1.5 * std::log(std::max(1.0, *open / content_of(in.view, id, l.close_at))) / k;
  return std::min(from_seconds(std::min(s, 1e6)), in.site().venting.longest_venting);
}

void open_vent(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  v.off_deadline = in.now() + off_after(in, id);
  v.opened_at = in.now();
  v.openings.push_back(in.now());
  v.waits_since.reset();
  const auto last_y = v.follow.last_y;
  v.follow = VentFollow{};
  v.follow.last_y = last_y;
  begin_piece(in, id);
  enter(in, id, VentPhase::opening);
  order_vent(in, id, true, "its turn, until " + duration_text(*v.off_deadline - in.now()) + " from now at the latest");
}

void step_flushing(const Inside& in, SystemId id) {
  const Permit p = permit(in.view, id, false);
  if (!p.permitted()) {
    in.note(id, "turn given up while the sample line flushed: " + first_refusal(p));
    return end_turn(in, id);
  }
  const auto& goal = in.site()[id].purity;
  if (line_flushed(in.view, id)) return open_vent(in, id);
  if (in.now() - in.vent(id).phase_since <= 2 * in.site()[goal->analyser].flush + seconds(30)) return;
  in.note(id, "turn given up: the sample port did not open");
  in.vent(id).earliest_next = in.now() + kAfterRefused;
  end_turn(in, id);
}

bool past_read_back(const Inside& in, SystemId id) {
  const OutputSeen& seen = in.output(in.site()[id].vent->output);
  const Output& o = in.site()[in.site()[id].vent->output];
  return seen.ordered_at && in.now() - *seen.ordered_at > kReadBack + o.reply_time_out + o.valve_travel;
}

void step_open(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (in.now() >= *v.off_deadline) return close_vent(in, id, "off-deadline reached");
  if (v.phase == VentPhase::opening && past_read_back(in, id)) {
    close_vent(in, id, "opening not read back");
    return found_mismatch(in, id, "ordered open, not read back");
  }
  const Permit p = permit(in.view, id, true);
  if (!p.permitted()) return close_vent(in, id, first_refusal(p));
  const auto& refill = in.view.twin(id).refills().current();
  const bool sweep = in.site()[id].vent->tap == Tap::far_end || in.site()[id].air.regulated;
  if (refill && !sweep && in.now() - std::max(refill->began, *v.opened_at) >= kAfterRefillStart)
    return close_vent(in, id, "the refill has begun");
  const VentPiece& piece = v.follow.pieces.back();
  if (piece.fed != (refill.has_value() || in.site()[id].air.regulated) || in.now() - piece.from >= longest_piece(in, id))
    cut_piece(in, id, false);
}

// When the pressure after a close may be judged: the valve has moved, and gas that a refill warmed has cooled.
EngineTime calm_since(const Inside& in, SystemId id, EngineTime closed) {
  const EngineTime moved = closed + in.site()[in.site()[id].vent->output].valve_travel + seconds(2);
  const auto fed = last_refill_ended(in.view, id);
  return fed ? std::max(moved, *fed + in.site().venting.settle_after_refill * 2 / 5) : moved;
}

// Shut for good, or suspected: the pressure over the watch, then after the refill.
void step_closing(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const OutputSeen& seen = in.output(in.site()[id].vent->output);
  const EngineTime closed = *v.follow.closed_at;
  const Duration watch = in.site().venting.shut_watch;
  if (refilling(in.view, id)) v.follow.refill_since_close = true;
  if (seen.ordered_at && !seen.confirmed_at && past_read_back(in, id) && in.now() - *seen.ordered_at > seconds(30)) {
    order_vent(in, id, false, "close not read back, repeated");
    if (in.now() - closed >= watch && seen.state == OutputState::open) found_mismatch(in, id, "ordered shut, read back open");
  }
  if (v.follow.refill_since_close) return enter(in, id, VentPhase::refilling);  // looked at once it has ended
  const EngineTime from = calm_since(in, id, closed);
  if (in.now() < from + watch) return;
  if (falls_on(in, id, from, from + watch)) found_stuck(in, id, "falls on " + duration_text(watch) + " after the close");
  enter(in, id, VentPhase::refilling);
}

void finish(const Inside& in, SystemId id) {
  end_turn(in, id);
  if (in.vent(id).pulse.by.empty()) after_venting(in, id);
  else pulse_closed(in, id);
}

void step_refilling(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const EngineTime closed = *v.follow.closed_at;
  const Duration settle = in.site().venting.settle_after_refill;
  const auto ended = last_refill_ended(in.view, id);
  if (refilling(in.view, id)) {
    if (ended && *ended > closed && in.view.twin(id).refills().current()->began - *ended < settle && !v.findings.stuck_open)
      found_stuck(in, id, "a refill began again right after the last");
    v.follow.refill_since_close = true;
    return;
  }
  if (!v.follow.pieces.empty()) return;
  if (v.follow.refill_since_close && ended && *ended > closed) {
    if (in.now() - *ended < settle) return;
    if (falls_on(in, id, *ended + settle * 2 / 5, *ended + settle) && !v.findings.stuck_open)
      found_stuck(in, id, "falls on after the refill");
    return finish(in, id);
  }
  if (in.now() - closed >= in.site().venting.no_refill_frees_turn) finish(in, id);
}

}  // namespace

void begin_turn(const Inside& in, SystemId id) {
  const auto& goal = in.site()[id].purity;
  if (!goal || in.site()[goal->analyser].ports.empty()) {
    if (goal) sample_venting(in, id);
    return open_vent(in, id);
  }
  enter(in, id, VentPhase::flushing);
  sample_venting(in, id);
}

void step_turn(const Inside& in, SystemId id) {
  settle_pieces(in, id);
  switch (in.vent(id).phase) {
    case VentPhase::idle:
    case VentPhase::sampling: break;
    case VentPhase::flushing: step_flushing(in, id); break;
    case VentPhase::opening:
    case VentPhase::venting: step_open(in, id); break;
    case VentPhase::pulsing: step_pulse(in, id); break;
    case VentPhase::closing: step_closing(in, id); break;
    case VentPhase::refilling: step_refilling(in, id); break;
  }
  follow_refills(in, id);
}

void close_vent(const Inside& in, SystemId id, std::string reason) {
  VentState& v = in.vent(id);
  if (!vent_may_be_open(v)) {
    if (v.phase == VentPhase::flushing) end_turn(in, id);
    return;
  }
  order_vent(in, id, false, reason);
  v.follow.closed_at = in.now();
  v.follow.close_why = std::move(reason);
  v.closings.push_back(in.now());
  v.last_venting_ended = in.now();
  v.off_deadline.reset();
  cut_piece(in, id, true);
  if (refilling(in.view, id)) {
    v.follow.refill_from = content_now(in.view, id);
    v.follow.refill_since_close = true;
  }
  enter(in, id, VentPhase::closing);
}

void vent_reading(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const Duration poll = in.site()[in.site()[id].pressure].poll;
  if (v.phase == VentPhase::pulsing) {
    step_pulse(in, id);
    if (v.phase == VentPhase::pulsing) renew(in, in.site()[id].vent->output, poll);
    return;
  }
  const Permit p = permit(in.view, id, true);
  if (!p.permitted()) return close_vent(in, id, first_refusal(p));
  follow_effect(in, id);
  if (vent_may_be_open(v)) renew(in, in.site()[id].vent->output, poll);
}

void vent_confirmed(const Inside& in, SystemId id) {
  if (in.vent(id).phase == VentPhase::opening) enter(in, id, VentPhase::venting);
}

}  // namespace riserkeep
