// RFC 3339 times to and from milliseconds since 1970-01-01T00:00:00Z. Labels only, never for intervals.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rules/time.h"

namespace riserkeep {

// RFC 3339 section 5.6: date, 'T' (or 't', or a space), time, optional fraction, 'Z' (or 'z') or an offset.
// Years 0000 to 9999, leap years proleptic Gregorian; second 60 only where a leap second can be (23:59:60
// UTC) and then the same instant as the next midnight, as POSIX counts. Fractions beyond milliseconds round
// down. Anything else, also what follows the time, gives nothing.
std::optional<WallTime> parse_rfc3339(std::string_view text);

// Always UTC with 'Z'; `decimals` of the second, 0 to 3 (cut, not rounded). "2026-03-01T06:30:00.250Z"
std::string format_rfc3339(WallTime time, int decimals = 3);

}  // namespace riserkeep
