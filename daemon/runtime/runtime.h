// The running daemon: one loop thread owns the engine and everything below; buses, brokers and the store have
// threads of their own and reach the loop through the mailbox only.
#pragma once

#include <memory>
#include <string>

#include "config/site.h"

namespace riserkeep {

struct RunOptions {
  std::string site_file, state_dir = "/var/lib/riserkeep";
  bool events_to_stdout = false;
};

class Runtime {
 public:
  // Locks the state directory, restores and replays the record. Throws std::runtime_error (where, what, cure).
  Runtime(Description what, const RunOptions& options);
  ~Runtime();
  Runtime(const Runtime&) = delete;
  Runtime& operator=(const Runtime&) = delete;

  // Until SIGTERM or SIGINT. 0: stopped in order; 1: a fault, outputs made safe nevertheless. A new site file is
  // taken over as a restart without the exit: outputs safe, state saved, everything built anew and restored.
  int run();

 private:
  class Loop;
  void take_over();

  RunOptions options_;
  std::unique_ptr<Loop> loop_;
};

}  // namespace riserkeep
