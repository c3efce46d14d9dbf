// Gives a site every channel that a recording may hold, wired or not: replay needs only the systems.
#pragma once

#include "rules/site.h"

namespace riserkeep {

// Appends what is missing; the channels that are there keep their numbers.
void add_recordable_channels(Site&);

}  // namespace riserkeep
