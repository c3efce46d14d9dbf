// people: - who is told, how and what.
#pragma once

#include <optional>

#include "config/load/build.h"

namespace riserkeep {

void read_people(Build&, const std::optional<Field>&);

}  // namespace riserkeep
