// What no single key can know: ids that collide, registers that overlap, ladders that cross.
#pragma once

#include "config/load/build.h"

namespace riserkeep {

void check_names(Build&);
void check_wiring(Build&);
void check_ladders(Build&);  // needs systems without errors

}  // namespace riserkeep
