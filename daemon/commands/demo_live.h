// `riserkeep demo --live`: the simulated room and the daemon as two processes over Modbus TCP, until stopped.
#pragma once

namespace riserkeep {

struct DemoOptions;
int demo_live(const DemoOptions&);

}  // namespace riserkeep
