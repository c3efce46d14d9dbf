// RFC 3339 times with milliseconds, always written in UTC: "2031-10-13T01:00:00.000Z". Reading them is the
// drivers' parse_rfc3339: payloads of the broker carry such times too.
#pragma once

#include <string>

#include "drivers/wall_time.h"
#include "rules/time.h"

namespace riserkeep {

// Years 0000 to 9999; outside, the nearest of them.
std::string rfc3339(WallTime);

}  // namespace riserkeep
