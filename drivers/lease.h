// One output and its off-deadline, as a state machine without I/O: orders go in, single bus calls come out.
// The deadline is armed before the opening write leaves, so whatever happens afterwards ends in a close.
//
// "Safe" is the de-energised coil, always: a vent or port shut, a supply valve open. Coil on = not safe.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

enum class BusCall : std::uint8_t { write_safe, write_unsafe, read_back };
// `lost`: no answer, so nobody knows whether it was carried out. `refused`: the device said no.
enum class CallResult : std::uint8_t { done, refused, lost };

class OutputLease {
 public:
  OutputLease(OutputId output, OutputKind kind);

  // An order from the engine. Dropped as expired: one not newer than the newest seen, and an opening or a
  // renewal after its not_after or whose lease has ended already. A close never expires by time alone.
  // A renewal is read back like an opening, but speaks only when something changed or it failed.
  void order(const OutputOrder&, EngineTime now);
  void make_safe();                  // start, link back: says what was found, then what it became
  void make_safe_blind();            // exit: writes before it looks
  void lost_sight();                 // the link is down: says "unknown" once
  void check();                      // reads back when nothing else is going on
  // To be called before every bus call: closes when the lease has ended, drops an opening that waited too long.
  void enforce(EngineTime now);

  // The one bus call that is due, if any; answer it with done() before asking again.
  std::optional<BusCall> next() const { return next_; }
  void done(BusCall call, CallResult result, bool coil_on = false);  // coil_on: what read_back saw

  bool returning() const { return doing_ == Doing::finding || doing_ == Doing::returning; }  // to the safe state
  bool finding() const { return doing_ == Doing::finding; }    // the first look of make_safe() is still to come
  bool surely_safe() const { return state_ == safe_state() && doing_ == Doing::resting; }
  std::optional<EngineTime> deadline() const { return lease_until_; }  // present while it may be away from safe
  OutputState state() const { return state_; }
  OutputId output() const { return output_; }

  std::vector<OutputObserved> take_observed();

 private:
  enum class Doing : std::uint8_t { resting, finding, returning, opening };
  OutputState state_of(bool coil_on) const;
  OutputState safe_state() const { return state_of(false); }
  void say(OrderNo order, OutputOutcome outcome);
  void open(const OutputOrder&);
  void renew(const OutputOrder&);
  void go_safe(OrderNo order, OutputOutcome answer);
  void find();
  void wrote_unsafe(CallResult result);
  void read(bool coil_on);
  void read_at_rest();
  void read_failed();

  OutputId output_;
  bool safe_open_;
  Doing doing_ = Doing::resting;
  OutputState state_ = OutputState::unknown;
  std::optional<BusCall> next_;
  OrderNo newest_{};
  OrderNo answering_{};              // what the coming observation answers, and how if all goes well
  OutputOutcome answer_ = OutputOutcome::found;
  bool told_unknown_ = false;        // a return that fails is said once, then tried on in silence
  OutputState last_found_ = OutputState::unknown;
  EngineTime not_after_{};
  std::optional<EngineTime> lease_until_;
  std::vector<OutputObserved> observed_;
};

}  // namespace riserkeep
