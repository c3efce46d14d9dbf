// What a fitter does in a rehearsed room: prove every vent, then let the purges begin.
#pragma once

#include <string>
#include <vector>

#include "daemon/rehearsal/rehearsal.h"

namespace riserkeep {

// Every vent is proved before the first purge begins: a purge would take the turn. What is refused stays in
// watch and is told with its reason.
std::vector<std::string> commission_and_purge(Rehearsal&, const std::string& who);

}  // namespace riserkeep
