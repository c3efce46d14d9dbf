// Commands that a person types to the simulated room.
#pragma once

#include <string>

#include "drivers/plant/room.h"
#include "rules/site.h"

namespace riserkeep::plant {

// "help", "fault ...", "clear ...", "clear all", "faults", "reset SYSTEM", "truth". The answer has no new line at
// its end; an unknown command is answered with what there is.
std::string room_command(SimulatedRoom&, const Site&, const std::string& line);

}  // namespace riserkeep::plant
