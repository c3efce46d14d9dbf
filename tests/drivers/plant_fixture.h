// A fictional riser room for the tests of the plant: two systems, one supply, one shared analyser, all wired.
#pragma once

#include "config/wiring.h"
#include "drivers/plant/room.h"
#include "rules/site.h"

namespace riserkeep::plant_test {

struct Bench {
  Site site;
  Wiring wiring;
  ChannelId pressure[2], low_air[2], waterflow[2], vent_contact[2], oxygen, supply_oxygen, lockout;
  OutputId vent[2], port[2], supply_port;
};

Bench bench();

// Nothing wanders, nothing is noisy, nothing leaks; the gas has the temperature of the wall.
Scenario still(const Site&);

inline SystemId system_no(int i) { return SystemId{static_cast<std::uint16_t>(i)}; }
void run(SimulatedRoom&, Duration);

}  // namespace riserkeep::plant_test
