// Consequence decides who is called: what threatens people, a trip, freezing or low air within 8 h calls
// now; the rest waits for the working morning.
#pragma once

#include "rules/judge/classes.h"

namespace riserkeep {

bool calls_now(ClassId, Priority);

}  // namespace riserkeep
