// `riserkeep replay SITE.yaml FILE|-`: the same engine over a recorded past; events on standard output.
#pragma once

#include <string>

namespace riserkeep {

// FILE is telemetry (CSV) or an input log (JSON Lines), told by its first line. Exit codes: 0 done, 1 the
// recording is damaged (what came before the damage was replayed), 2 the site file is wrong.
int replay_command(const std::string& site_file, const std::string& recording);

}  // namespace riserkeep
