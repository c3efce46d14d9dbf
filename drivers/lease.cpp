#include "drivers/lease.h"

#include <utility>

namespace riserkeep {

OutputLease::OutputLease(OutputId output, OutputKind kind)
    : output_(output), safe_open_(kind == OutputKind::supply_valve) {}

OutputState OutputLease::state_of(bool coil_on) const {
  return coil_on != safe_open_ ? OutputState::open : OutputState::shut;
}

void OutputLease::say(OrderNo order, OutputOutcome outcome) {
  observed_.push_back({output_, order, outcome, state_});
  last_found_ = state_;
}

std::vector<OutputObserved> OutputLease::take_observed() { return std::exchange(observed_, {}); }

void OutputLease::order(const OutputOrder& o, EngineTime now) {
  if (o.order <= newest_) return say(o.order, OutputOutcome::expired);
  newest_ = o.order;
  if (o.open == safe_open_) {
    const bool look_first = doing_ == Doing::finding;   // one call more, and what was found is known
    go_safe(o.order, OutputOutcome::confirmed);
    if (look_first) find();
    return;
  }
  if (now > o.not_after || now >= o.lease_until) return say(o.order, OutputOutcome::expired);
  // An output that is not proven safe must not be moved away from it, and a renewal never opens.
  if (returning()) return say(o.order, OutputOutcome::refused);
  if (lease_until_) return renew(o);
  if (o.renewal) return say(o.order, OutputOutcome::refused);
  open(o);
}

void OutputLease::open(const OutputOrder& o) {
  lease_until_ = o.lease_until;
  not_after_ = o.not_after;
  answering_ = o.order;
  doing_ = Doing::opening;
  next_ = BusCall::write_unsafe;
}

void OutputLease::renew(const OutputOrder& o) {
  lease_until_ = o.lease_until;
  if (doing_ == Doing::opening) return;
  answering_ = o.order;
  next_ = BusCall::read_back;
}

void OutputLease::go_safe(OrderNo order, OutputOutcome answer) {
  lease_until_.reset();
  told_unknown_ = false;
  answering_ = order;
  answer_ = answer;
  doing_ = Doing::returning;
  next_ = BusCall::write_safe;
}

void OutputLease::make_safe() {
  const bool owes_an_answer = doing_ == Doing::returning && answer_ != OutputOutcome::found;
  if (!owes_an_answer) go_safe(OrderNo{}, OutputOutcome::found);
  find();
}

void OutputLease::find() {
  last_found_ = OutputState::unknown;
  doing_ = Doing::finding;
  next_ = BusCall::read_back;
}

void OutputLease::make_safe_blind() {
  if (doing_ == Doing::returning) return;
  go_safe(OrderNo{}, OutputOutcome::found);
  last_found_ = OutputState::unknown;
}

void OutputLease::lost_sight() {
  if (state_ == OutputState::unknown && told_unknown_) return;
  state_ = OutputState::unknown;
  told_unknown_ = true;
  say(OrderNo{}, OutputOutcome::found);
}

void OutputLease::check() {
  if (doing_ == Doing::resting && !next_) next_ = BusCall::read_back;
}

void OutputLease::enforce(EngineTime now) {
  if (doing_ == Doing::opening && next_ == BusCall::write_unsafe && now > not_after_) {
    lease_until_.reset();
    doing_ = Doing::resting;
    next_.reset();
    say(answering_, OutputOutcome::expired);
  }
  if (lease_until_ && now >= *lease_until_) go_safe(answering_, OutputOutcome::expired);
}

void OutputLease::done(BusCall call, CallResult result, bool coil_on) {
  switch (call) {
    case BusCall::write_safe: next_ = BusCall::read_back; break;   // whatever the answer: only looking tells
    case BusCall::write_unsafe: wrote_unsafe(result); break;
    case BusCall::read_back: result == CallResult::done ? read(coil_on) : read_failed(); break;
  }
}

void OutputLease::wrote_unsafe(CallResult result) {
  state_ = OutputState::unknown;
  next_ = BusCall::read_back;        // also after a lost answer: an opening is never sent twice
  if (result == CallResult::refused) go_safe(answering_, OutputOutcome::refused);
}

void OutputLease::read(bool coil_on) {
  state_ = state_of(coil_on);
  const bool safe = !coil_on;
  next_.reset();
  switch (doing_) {
    case Doing::resting: return read_at_rest();
    case Doing::finding:
      // Found safe is said after the write only: whoever hears it may order an opening at once.
      if (!safe) say(OrderNo{}, OutputOutcome::found);
      doing_ = Doing::returning;
      next_ = BusCall::write_safe;
      return;
    case Doing::returning:
      if (!safe) {
        if (!std::exchange(told_unknown_, true)) say(answering_, OutputOutcome::refused);
        next_ = BusCall::write_safe;
        return;
      }
      doing_ = Doing::resting;
      if (answer_ != OutputOutcome::found || state_ != last_found_) say(answering_, answer_);
      return;
    case Doing::opening:
      // Read back safe: the order was lost, or is still on its way. Close, so that it cannot arrive late and stay.
      if (safe) return go_safe(answering_, OutputOutcome::refused);
      doing_ = Doing::resting;
      return say(answering_, OutputOutcome::confirmed);
  }
}

void OutputLease::read_at_rest() {
  const bool safe = state_ == safe_state();
  if (lease_until_ && safe) {        // the device dropped it by itself
    lease_until_.reset();
    return say(answering_, OutputOutcome::refused);
  }
  if (lease_until_) {
    if (state_ != last_found_) say(answering_, OutputOutcome::confirmed);   // a renewal that changed nothing is silent
    return;
  }
  if (safe) {
    if (state_ != last_found_) say(OrderNo{}, OutputOutcome::found);
    return;
  }
  say(OrderNo{}, OutputOutcome::found);   // moved by somebody else
  go_safe(OrderNo{}, OutputOutcome::found);
}

void OutputLease::read_failed() {
  state_ = OutputState::unknown;
  switch (doing_) {
    case Doing::resting:             // the lease goes on and ends by itself; the next renewal looks again
      next_.reset();
      return;
    case Doing::finding: doing_ = Doing::returning; [[fallthrough]];
    case Doing::returning:
      if (!std::exchange(told_unknown_, true)) {
        say(answering_, answer_ == OutputOutcome::found ? OutputOutcome::found : OutputOutcome::refused);
      }
      next_ = BusCall::write_safe;
      return;
    case Doing::opening:
      say(answering_, OutputOutcome::refused);
      go_safe(answering_, OutputOutcome::refused);
      told_unknown_ = true;
      return;
  }
}

}  // namespace riserkeep
