// `riserkeep plant`: the simulated riser room alone, on a Modbus TCP port.
#pragma once

#include <cstdint>
#include <string>

namespace riserkeep {

// Prints the port on standard error, reads fault commands from standard input, stops at SIGTERM or SIGINT.
// Returns the exit code: 0 stopped, 1 cannot listen, 2 the site file has errors.
int plant_command(const std::string& site_file, int port, std::uint64_t seed, double time_scale, bool demo_scenario);

}  // namespace riserkeep
