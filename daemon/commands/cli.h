// The command line: every command, its help, its exit code.
#pragma once

namespace riserkeep {

int command_line(int argc, char** argv);

}  // namespace riserkeep
