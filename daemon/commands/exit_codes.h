// What every command answers to the shell. docs/commands.md.
#pragma once

namespace riserkeep {

inline constexpr int kDone = 0, kFailed = 1, kUsage = 2, kNotRunning = 3, kRefused = 4;

}  // namespace riserkeep
