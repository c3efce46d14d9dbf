// `riserkeep run SITE.yaml --state DIR [--events -]`: the daemon, until SIGTERM or SIGINT.
#pragma once

#include "daemon/runtime/runtime.h"

namespace riserkeep {

// 0 stopped in order, 1 it failed (state directory, lock, fault), 2 the site file has errors.
int run_command(const RunOptions&);

}  // namespace riserkeep
