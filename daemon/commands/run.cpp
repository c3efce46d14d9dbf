#include "daemon/commands/run.h"

#include <signal.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include <exception>
#include <memory>
#include <utility>

#include "daemon/commands/check.h"
#include "daemon/commands/exit_codes.h"
#include "daemon/runtime/signals.h"

namespace riserkeep {
namespace {

// Synchronous, to standard error: what must be known after a crash has been written before it.
void open_log() {
  auto sink = std::make_shared<spdlog::sinks::stderr_sink_mt>();
  auto log = std::make_shared<spdlog::logger>("riserkeep", std::move(sink));
  // The service manager's journal stamps lines itself.
  log->set_pattern(::getenv("JOURNAL_STREAM") ? "%l: %v" : "%Y-%m-%dT%H:%M:%S.%eZ %l: %v", spdlog::pattern_time_type::utc);
  log->flush_on(spdlog::level::trace);
  spdlog::set_default_logger(std::move(log));
}

}  // namespace

int run_command(const RunOptions& options) {
  ::signal(SIGPIPE, SIG_IGN);
  hold_signals();
  open_log();
  auto description = load_or_explain(options.site_file, Purpose::run, stderr);
  if (!description) return kUsage;
  try {
    Runtime runtime(std::move(*description), options);
    return runtime.run();
  } catch (const std::exception& e) {
    spdlog::critical("cannot start: {}", e.what());
    return kFailed;
  }
}

}  // namespace riserkeep
