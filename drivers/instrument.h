// The seams between the buses and the rest of the program.
#pragma once

#include <functional>
#include <vector>

#include "rules/effect.h"
#include "rules/input.h"
#include "rules/reading.h"

namespace riserkeep {

// The engine's time, read by drivers to stamp what they measure. One implementation, in daemon/runtime.
class Clock {
 public:
  virtual ~Clock() = default;
  virtual EngineTime now() const = 0;
};

// Where drivers put what they saw. Thread-safe, never blocks.
using Sink = std::function<void(Input)>;

// Something that is polled on its bus thread.
class Instrument {
 public:
  virtual ~Instrument() = default;
  virtual void poll(std::vector<Reading>& out) = 0;
};

// One output on its bus thread; owns the off-deadline, so that a hung engine still closes.
class Actuator {
 public:
  virtual ~Actuator() = default;
  virtual OutputObserved carry_out(const OutputOrder&) = 0;   // open, close, or renewal of the lease
  virtual OutputObserved make_safe() = 0;                     // start, exit, link back
  virtual OutputObserved read_back() = 0;
  virtual std::vector<OutputObserved> enforce(EngineTime now) = 0;  // returns to safe when the lease has ended
};

}  // namespace riserkeep
