#include "daemon/runtime/mailbox.h"

#include <utility>

namespace riserkeep {

Mailbox::Mailbox(std::size_t channels, std::size_t bound, std::function<void()> wake)
    : place_of_(channels, 0), bound_(bound), wake_(std::move(wake)) {}

bool Mailbox::push(Input input) {
  bool was_empty = false, taken = false;
  {
    const std::lock_guard lock(mutex_);
    taken = take(std::move(input), was_empty);
  }
  if (taken && was_empty && wake_) wake_();
  return taken;
}

bool Mailbox::take(Input&& input, bool& was_empty) {
  was_empty = waiting_.size() == holes_;
  if (const auto* reading = std::get_if<Reading>(&input)) {
    const std::size_t channel = reading->channel.index;
    if (channel >= place_of_.size()) { ++refused_; return false; }
    if (const std::size_t place = place_of_[channel]; place != 0) {
      waiting_[place - 1].reset();
      ++holes_;
      ++overtaken_;
    }
    waiting_.emplace_back(std::move(input));
    place_of_[channel] = waiting_.size();
    if (holes_ > place_of_.size() + bound_) compact();
    return true;
  }
  if (lossless_ >= bound_) { ++refused_; return false; }
  ++lossless_;
  waiting_.emplace_back(std::move(input));
  return true;
}

void Mailbox::compact() {
  std::size_t kept = 0;
  for (auto& slot : waiting_) {
    if (!slot) continue;
    if (const auto* reading = std::get_if<Reading>(&*slot)) place_of_[reading->channel.index] = kept + 1;
    if (&slot != &waiting_[kept]) waiting_[kept] = std::move(slot);
    ++kept;
  }
  waiting_.resize(kept);
  holes_ = 0;
}

void Mailbox::drain(std::vector<Input>& out) {
  std::vector<std::optional<Input>> taken;
  {
    const std::lock_guard lock(mutex_);
    taken.swap(waiting_);
    for (auto& place : place_of_) place = 0;
    lossless_ = holes_ = 0;
  }
  for (auto& slot : taken)
    if (slot) out.push_back(std::move(*slot));
}

std::uint64_t Mailbox::overtaken() const {
  const std::lock_guard lock(mutex_);
  return overtaken_;
}

std::uint64_t Mailbox::refused() const {
  const std::lock_guard lock(mutex_);
  return refused_;
}

}  // namespace riserkeep
