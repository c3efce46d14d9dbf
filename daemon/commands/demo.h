// `riserkeep demo`: two simulated weeks of a fictional riser room in about a minute, through the very same
// engine, ending with a readable account. `--live`: plant and daemon as two processes over Modbus TCP.
#pragma once

#include <cstdint>
#include <string>

namespace riserkeep {

struct DemoOptions {
  bool live = false;
  int days = 14;
  std::uint64_t seed = 1;
  std::string program;               // how this program was started, for the two processes of `--live`
};

int demo_command(const DemoOptions&);

}  // namespace riserkeep
