// systems: - valve, air maintenance, vent and purity of each.
#pragma once

#include "config/load/build.h"

namespace riserkeep {

void read_systems(Build&, Section& top);

}  // namespace riserkeep
