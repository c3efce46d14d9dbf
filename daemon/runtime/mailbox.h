// The only way into the loop thread from others. Bounded: of a channel's readings only the newest waits,
// everything else is lossless up to a bound that a healthy loop never meets.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <vector>

#include "rules/input.h"

namespace riserkeep {

class Mailbox {
 public:
  // `wake` is called from the pushing thread whenever the box stops being empty; it must not block.
  Mailbox(std::size_t channels, std::size_t bound, std::function<void()> wake);

  // Thread-safe, never blocks for long. False: the bound is reached, the input was not taken.
  bool push(Input);
  // Everything that waits, in the order of arrival. Loop thread.
  void drain(std::vector<Input>& out);

  std::uint64_t overtaken() const;  // readings replaced by a newer one of their channel before the loop came
  std::uint64_t refused() const;    // inputs lost at the bound

 private:
  bool take(Input&&, bool& was_empty);
  void compact();

  mutable std::mutex mutex_;
  std::vector<std::optional<Input>> waiting_;      // an overtaken reading leaves a hole
  std::vector<std::size_t> place_of_;              // by channel: 1 + index into waiting_, 0 = none
  std::size_t bound_, lossless_ = 0, holes_ = 0;
  std::uint64_t overtaken_ = 0, refused_ = 0;
  std::function<void()> wake_;
};

}  // namespace riserkeep
