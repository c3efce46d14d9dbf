// Points in time in a site file: RFC 3339, as "2031-10-13T01:00:00Z".
#pragma once

#include <optional>

#include "config/load/section.h"
#include "rules/time.h"

namespace riserkeep {

std::optional<WallTime> read_time(const Field&);

}  // namespace riserkeep
