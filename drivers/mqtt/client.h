// One MQTT broker: topics in, state and events out, last will. Own thread; paho's callbacks only hand over.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/wiring.h"
#include "drivers/instrument.h"
#include "rules/site.h"

namespace riserkeep {

struct MqttHealth {
  bool up = false;                   // connected and every subscription granted an answer
  std::uint64_t connects = 0, received = 0, published = 0, dropped = 0;
  std::size_t waiting = 0;           // messages not yet handed to the broker
  std::string trouble;               // empty when well; else what, and how to mend it
};

// Label time of a payload to engine time; nothing when the wall clock is not to be trusted.
using ToEngineTime = std::function<std::optional<EngineTime>(WallTime)>;

class MqttLink {
 public:
  // `site_topic_prefix`: "riserkeep/SITE-ID", without a slash at the end. The last will is "offline",
  // retained, on PREFIX/box. `clock` and `sink` must outlive the link.
  MqttLink(const Site&, const LinkWiring&, std::vector<TopicPoint>, const Clock&, Sink, std::string site_topic_prefix,
           ToEngineTime to_engine = {});
  ~MqttLink();                       // stop()
  MqttLink(const MqttLink&) = delete;
  MqttLink& operator=(const MqttLink&) = delete;

  void start();
  // Says "offline" on PREFIX/box, disconnects, joins; at most 4 s.
  void stop();

  // `topic` is below the prefix: "systems/loading-dock", "events". Never blocks, callable from any thread.
  // While the broker is away the newest message per retained topic is kept, and the newest 10,000 others;
  // what is dropped is counted. Retained topics are said again at every connect, so that a broker that
  // forgot them has them back. False when something had to be dropped or the topic is unusable.
  bool publish(std::string_view topic, std::string payload, bool retained, int qos);

  MqttHealth health() const;

 private:
  class Worker;
  std::unique_ptr<Worker> worker_;
};

}  // namespace riserkeep
