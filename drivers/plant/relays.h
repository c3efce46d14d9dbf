// The watchdog of a relay unit: it drops its coils when no valid request has come for a while.
#pragma once

#include <optional>

#include "rules/time.h"

namespace riserkeep::plant {

class RelayWatchdog {
 public:
  RelayWatchdog() = default;
  explicit RelayWatchdog(std::optional<Duration> after) : after_(after) {}

  void set(std::optional<Duration> after) { after_ = after; }  // nullopt: never drops
  std::optional<Duration> after() const { return after_; }
  void heard(EngineTime at) {
    last_ = at;
    dropped_ = false;
  }
  // True once for every silence that has lasted long enough.
  bool drops(EngineTime at) {
    if (dropped_ || !after_ || at - last_ < *after_) return false;
    return dropped_ = true;
  }

 private:
  std::optional<Duration> after_;
  EngineTime last_{};
  bool dropped_ = false;
};

}  // namespace riserkeep::plant
