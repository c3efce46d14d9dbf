// What `check` prints of a site that loads: the pressure ladder, every register with its request bytes, the
// bus cycle with two devices dead, the time a person has. 80 columns, ASCII. Pure.
#pragma once

#include <string>

#include "config/site.h"

namespace riserkeep {

std::string check_report(const Description&);

// How long one round over all points of a link takes, with every device answering and in the round in which
// two of them go silent: each costs three reply time-outs, then it is asked more rarely. Serial: 11 bits a character, 3.5 characters of silence around each frame (1.75 ms above
// 19200 baud; Modbus over Serial Line V1.02, 2.5.1.1), 10 ms in the device; TCP: 10 ms a request.
struct BusCycle {
  int requests = 0;
  double seconds = 0, seconds_two_dead = 0;
};
BusCycle bus_cycle(const Wiring&, LinkId);

}  // namespace riserkeep
