// How long until it matters: time from the present air pressure to the low-air switch and to the trip point,
// at the present loss. The loss is the larger of the leak estimate at service pressure and the fall of the
// last ten minutes beyond its noise. "Not known" is a result.
#pragma once

#include <optional>
#include <string>

#include "rules/view.h"

namespace riserkeep {

struct Outlook {
  std::optional<GaugePressure> air;          // absent: not measured now
  std::optional<PressureRate> loss;          // positive; absent: not observable
  std::optional<Duration> low_air, trip;     // absent: not known, or no such point; 0: there already
  std::optional<GaugePressure> trip_at;      // absent: losing the air alone admits no water
  bool vent_open = false;                    // a vent of ours is open: the fall is its own
};

Outlook outlook(const SiteView&, SystemId);

// "in about 6 h", "now", "not known", "in more than 30 d".
std::string low_air_words(const Outlook&);
std::string trip_words(const Outlook&);

// What losing the air means for this kind of valve, in one sentence.
std::string valve_words(const System&);

}  // namespace riserkeep
