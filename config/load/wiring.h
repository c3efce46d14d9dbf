// links:, devices: and every place where a channel or an output is wired ("analog 30001", a topic, "relays 1").
#pragma once

#include <optional>
#include <string>

#include "config/load/build.h"

namespace riserkeep {

void read_links(Build&, const std::optional<Field>&);
void read_devices(Build&, const std::optional<Field>&);

// What a point measures. The channel exists even when its place is missing or wrong.
struct PointRole {
  PlaceId place;
  Signal signal = Signal::pressure;
  std::string auxiliary_id;
};

// `at` is "DEVICE NUMBER" or a map with `at:`, `topic:` or `register:`; absent = not wired.
ChannelId add_channel(Build&, const PointRole&, const std::optional<Field>& at);
// The same when the place's keys are part of a larger map (an analyser).
ChannelId add_channel(Build&, const PointRole&, Section& map);
// Optional points: no key, no channel.
std::optional<ChannelId> add_optional_channel(Build&, const PointRole&, Section& map, std::string_view key);

struct OutputRole {
  std::string id;
  OutputKind kind = OutputKind::vent;
  PlaceId place;
  std::optional<AnalyserId> analyser;
};
OutputId add_output(Build&, const OutputRole&, const std::optional<Field>& at);

// "30001" -> input register 0, "410001" -> holding register 10000, "@0" -> `fallback` 0, "5" -> bit 4.
struct RegisterPlace {
  RegisterTable table;
  int address;
};
std::optional<RegisterPlace> parse_register(const Field&, std::string_view text, std::optional<RegisterTable> fallback);

}  // namespace riserkeep
