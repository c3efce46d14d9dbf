// From an MQTT payload to a reading. Pure; any bytes may come in.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "config/wiring.h"
#include "drivers/mqtt/client.h"
#include "rules/reading.h"

namespace riserkeep {

struct Arrived {
  std::string topic, payload;
  bool retained = false;             // kept by the broker, so of unknown age
  EngineTime at;
};

// The value is the JSON number, boolean, or numeric text at `value_pointer` (RFC 6901), or the whole payload
// when the pointer is empty. "Measured" is the payload's own time when it has one that can be placed on the
// engine's axis and does not lie ahead by more than 5 s, else the arrival. A retained message without such a
// time is bad (retained): nobody knows how old it is. Payloads above 64 KiB and what cannot be read: no_value.
Reading read_payload(const TopicPoint& point, Signal signal, const Arrived& message, const ToEngineTime& to_engine);

}  // namespace riserkeep
