// `riserkeep reload`: the daemon reads its site file again, and this waits until it watches by it.
#pragma once

#include "daemon/commands/remote.h"

namespace riserkeep {

// 0 taken over (or unchanged), 1 no answer afterwards, 2 refused for errors in the file, 3 not running, 4 not allowed.
int reload_command(const Remote&);

}  // namespace riserkeep
