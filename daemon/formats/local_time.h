// Wall time in the site's own IANA zone, for people. Unknown zones fall back to UTC and say so.
#pragma once

#include <string>

#include "rules/time.h"

namespace riserkeep {

std::string local_stamp(const std::string& zone, WallTime);   // "Wed 25 Nov 2026 04:12:07 CST"
std::string local_minute(const std::string& zone, WallTime);  // "Wed 25 Nov 04:12"
// The next time after `now` at which the zone's clocks show `minute` since midnight; the later one where that comes twice.
WallTime next_local_minute(const std::string& zone, WallTime now, int minute);
bool zone_exists(const std::string& zone);

}  // namespace riserkeep
