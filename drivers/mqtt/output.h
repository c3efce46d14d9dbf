// What waits to be published, bounded, whatever the broker does. Not thread-safe: MqttLink holds the lock.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>

namespace riserkeep {

struct Outgoing {
  std::string topic, payload;
  bool retained = false;
  int qos = 0;
};

class OutgoingQueue {
 public:
  explicit OutgoingQueue(std::size_t most_events = 10'000) : most_events_(most_events) {}

  // False when an older message had to be dropped for it. A retained topic keeps its newest only, which is
  // no loss; of the others the oldest go first.
  bool push(Outgoing message);
  std::optional<Outgoing> pop();     // retained topics first: they tell the state, events tell the way there
  void put_back(Outgoing message);   // could not be handed over; a newer one for the same retained topic wins
  void say_retained_again();         // after a connect: the broker may have forgotten them
  bool has_retained(const std::string& topic) const { return retained_.contains(topic); }

  std::size_t waiting() const { return events_.size() + fresh_; }
  std::uint64_t dropped() const { return dropped_; }

 private:
  struct Retained {
    std::string payload;
    int qos = 0;
    bool to_say = false;
  };
  std::size_t most_events_;
  std::map<std::string, Retained> retained_;
  std::size_t fresh_ = 0;            // retained topics still to say
  std::deque<Outgoing> events_;
  std::uint64_t dropped_ = 0;
};

}  // namespace riserkeep
