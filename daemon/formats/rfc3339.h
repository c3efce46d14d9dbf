// RFC 3339 times with milliseconds, always written in UTC: "2031-10-13T01:00:00.000Z".
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rules/time.h"

namespace riserkeep {

// Years 0000 to 9999; outside, the nearest of them.
std::string rfc3339(WallTime);

// The whole of `text`, with any offset and any number of decimals (cut after milliseconds). A leap second
// (":60") counts as the second after it. Absent when it is no RFC 3339 date-time.
std::optional<WallTime> parse_rfc3339(std::string_view text);

}  // namespace riserkeep
