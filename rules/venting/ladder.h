// The pressure ladder of one system: trip < limit < floor <= close_at < open_from < cut-out.
#pragma once

#include <optional>

#include "rules/site.h"

namespace riserkeep {

struct Ladder {
  std::optional<GaugePressure> trip;   // absent: air loss alone admits no water
  GaugePressure low_air, limit, floor, close_at, open_from, cut_in, cut_out;
  PressureChange margin;
  PressureRate fastest_fall;           // of that bore and volume, or as learned; 0 while neither is known
  std::optional<Duration> reaction;    // cut-out to trip, vent stuck open, feed dead; absent: unknown volume and rate
};

// `water`: highest of the last 7 days' measured water pressure and the configured one.
std::optional<GaugePressure> trip_pressure(const System&, std::optional<PressureChange> water_seen);

// `learned_k`: share of absolute pressure per second from commissioning, 0 = not learned.
// `cut_in_seen`: as learned from refills. `feed_on`: closes earlier, so that the pipe refills by itself.
Ladder ladder(const Site&, SystemId, double learned_k, GaugePressure cut_in_seen, std::optional<PressureChange> water_seen = {});

}  // namespace riserkeep
