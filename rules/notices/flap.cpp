#include "rules/notices/flap.h"

#include <algorithm>

namespace riserkeep {

Duration settle_time(const MessageParams& m) { return m.flap_within / std::max(1, m.flap_changes); }

void Flap::change(EngineTime at) {
  if (count_ > 0) longest_ = std::max(longest_, at - changed_);
  changed_ = at;
}

void Flap::raised(const MessageParams& m, EngineTime at) {
  if (count_ > 0 && forgotten(at)) *this = Flap{};
  change(at);
  if (count_++ == 0) first_ = at;
  raises_.push_back(at);
  while (raises_.size() > static_cast<std::size_t>(std::max(1, m.flap_changes))) raises_.pop_front();
}

void Flap::cleared(EngineTime at) { change(at); }

bool Flap::fast(const MessageParams& m, EngineTime now) const {
  return m.flap_changes > 1 && raises_.size() == static_cast<std::size_t>(m.flap_changes) && now - raises_.front() <= m.flap_within;
}

bool Flap::slow(EngineTime now) const { return told_ && now - *told_ <= kStory; }

Duration Flap::calm_after(const MessageParams& m) const { return std::max(m.calm, longest_ * 3 / 2); }

}  // namespace riserkeep
