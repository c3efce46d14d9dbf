#include <cstdio>

#if __has_include("daemon/commands/demo.h")
#include "daemon/commands/cli.h"

int main(int argc, char** argv) { return riserkeep::command_line(argc, argv); }
#else
int main() {
  std::puts("riserkeep " RISERKEEP_VERSION);
  return 0;
}
#endif
