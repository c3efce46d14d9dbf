#include "drivers/mqtt/output.h"

#include <utility>

namespace riserkeep {

bool OutgoingQueue::push(Outgoing message) {
  if (message.retained) {
    Retained& r = retained_[message.topic];
    if (!r.to_say) ++fresh_;
    r = {std::move(message.payload), message.qos, true};
    return true;
  }
  events_.push_back(std::move(message));
  if (events_.size() <= most_events_) return true;
  events_.pop_front();
  ++dropped_;
  return false;
}

std::optional<Outgoing> OutgoingQueue::pop() {
  for (auto it = retained_.begin(); fresh_ > 0 && it != retained_.end(); ++it) {
    auto& [topic, r] = *it;
    if (!r.to_say) continue;
    r.to_say = false;
    --fresh_;
    return Outgoing{topic, r.payload, true, r.qos};
  }
  if (events_.empty()) return std::nullopt;
  Outgoing first = std::move(events_.front());
  events_.pop_front();
  return first;
}

void OutgoingQueue::put_back(Outgoing message) {
  if (!message.retained) {
    events_.push_front(std::move(message));
    return;
  }
  Retained& r = retained_[message.topic];
  if (!r.to_say) ++fresh_;
  r.to_say = true;                   // its payload is the newest already
}

void OutgoingQueue::say_retained_again() {
  for (auto& [topic, r] : retained_) r.to_say = true;
  fresh_ = retained_.size();
}

}  // namespace riserkeep
