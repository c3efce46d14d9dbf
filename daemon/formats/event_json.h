// Events as JSON Lines: what `replay` prints, the journal keeps, MQTT and HTTP carry. docs/formats/events.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "rules/effect.h"
#include "rules/site.h"

namespace riserkeep {

// Orders to outputs are deeds, not events; everything else is an event.
bool is_event(const Effect&);
std::string_view event_kind(const Effect&);          // "alarm", "vent", ...; empty for no event
PlaceId event_place(const Site&, const Effect&);

// One line without the line break. `wall` is the label of `at`; absent: "time" is null and "engine_ms" tells
// the engine's own time. The same offset labels every other time of the event. Empty for no event.
std::string event_json(const Site&, std::uint64_t seq, std::optional<WallTime> wall, EngineTime at, const Effect&);

// A JSON string with its quotes. Bytes that are no UTF-8 become U+FFFD.
std::string json_string(std::string_view);

}  // namespace riserkeep
