#include "daemon/commands/cli.h"

int main(int argc, char** argv) { return riserkeep::command_line(argc, argv); }
