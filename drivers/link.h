// When to try again: state machines without I/O and without a clock of their own.
#pragma once

#include <chrono>
#include <cstdint>

namespace riserkeep {

using SteadyTime = std::chrono::steady_clock::time_point;

// Doubling pauses from `first` to `longest`, each lengthened by up to a tenth so that boxes which lost the
// same gateway do not come back in step. Reset by a good *reply* only: a peer that merely accepts
// connections earns nothing.
class Backoff {
 public:
  Backoff(std::chrono::milliseconds first, std::chrono::milliseconds longest, std::uint32_t seed);

  void failed(SteadyTime now);
  void succeeded();
  bool due(SteadyTime now) const { return now >= next_; }
  SteadyTime next() const { return next_; }
  int failures() const { return failures_; }

 private:
  std::chrono::milliseconds first_, longest_;
  std::uint32_t jitter_;
  int failures_ = 0;
  SteadyTime next_{};
};

// Up or down as told to the engine: up after a good reply, down when nothing behind the link answers. Says
// only changes.
class LinkState {
 public:
  enum class Said : std::uint8_t { nothing, up, down };
  Said replied() { return become(State::up); }
  Said silent() { return become(State::down); }
  bool up() const { return state_ == State::up; }

 private:
  enum class State : std::uint8_t { unknown, up, down };
  Said become(State next);
  State state_ = State::unknown;
};

}  // namespace riserkeep
