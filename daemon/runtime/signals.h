// Signals reach the loop's thread only. They are held back while threads start, so that all of those inherit the hold.
#pragma once

namespace riserkeep {

void hold_signals();     // SIGTERM, SIGINT, SIGHUP; what comes meanwhile waits
void let_signals_in();   // on this thread

}  // namespace riserkeep
