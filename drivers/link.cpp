#include "drivers/link.h"

#include <algorithm>

namespace riserkeep {

Backoff::Backoff(std::chrono::milliseconds first, std::chrono::milliseconds longest, std::uint32_t seed)
    : first_(first), longest_(longest), jitter_(seed * 2654435761u + 1u) {}

void Backoff::failed(SteadyTime now) {
  std::chrono::milliseconds pause = first_;
  for (int i = 0; i < failures_ && pause < longest_; ++i) pause *= 2;
  pause = std::min(pause, longest_);
  jitter_ = jitter_ * 1664525u + 1013904223u;
  pause += pause * static_cast<int>(jitter_ >> 24) / 2560;
  failures_ = std::min(failures_ + 1, 1000);
  next_ = now + pause;
}

void Backoff::succeeded() {
  failures_ = 0;
  next_ = {};
}

LinkState::Said LinkState::become(State next) {
  if (state_ == next) return Said::nothing;
  state_ = next;
  return next == State::up ? Said::up : Said::down;
}

}  // namespace riserkeep
