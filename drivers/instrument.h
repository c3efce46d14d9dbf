// The seams between the buses and the rest of the program.
#pragma once

#include <functional>
#include <vector>

#include "rules/effect.h"
#include "rules/input.h"
#include "rules/time.h"

namespace riserkeep {

// The engine's time, read by drivers to stamp what they measure. One implementation, in daemon/runtime.
class Clock {
 public:
  virtual ~Clock() = default;
  virtual EngineTime now() const = 0;
};

// Where drivers put what they saw. Thread-safe, never blocks.
using Sink = std::function<void(Input)>;

}  // namespace riserkeep
