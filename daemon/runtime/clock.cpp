#include "daemon/runtime/clock.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/timex.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <fstream>

namespace riserkeep {
namespace {

constexpr std::int64_t kStep = 2000;   // ms; smaller ones are the slewing of a disciplined clock

std::int64_t milliseconds_of(clockid_t clock) {
  timespec t{};
  clock_gettime(clock, &t);
  return std::int64_t{t.tv_sec} * 1000 + t.tv_nsec / 1'000'000;
}

bool filtered() {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);)
    if (line.starts_with("Seccomp:")) return line.find_first_of("12", 8) != std::string::npos;
  return true;
}

// Asking changes nothing, but a filter of system calls that does not know that ends the process: a child asks first.
bool may_ask_the_kernel() {
  if (!filtered()) return true;
  const pid_t child = fork();
  if (child < 0) return false;
  if (child == 0) {
    timex state{};
    _exit(adjtimex(&state) >= 0 ? 0 : 1);
  }
  int how = 0;
  while (waitpid(child, &how, 0) < 0)
    if (errno != EINTR) return false;
  return WIFEXITED(how) && WEXITSTATUS(how) == 0;
}

// Nothing: nobody may be asked.
std::optional<bool> synchronised() {
  struct stat marker{};
  if (::stat("/run/systemd/timesync/synchronized", &marker) == 0) return true;   // by systemd-timesyncd
  static const bool may_ask = may_ask_the_kernel();
  if (!may_ask) return std::nullopt;
  timex state{};
  const int answer = adjtimex(&state);
  return answer >= 0 && answer != TIME_ERROR && (state.status & STA_UNSYNC) == 0;
}

}  // namespace

WallNow wall_now() {
  const auto told = synchronised();
  return {milliseconds_of(CLOCK_REALTIME), told.value_or(false), told.has_value()};
}

std::int64_t boot_time_ms() { return milliseconds_of(CLOCK_BOOTTIME); }

std::string boot_id() {
  std::ifstream file("/proc/sys/kernel/random/boot_id");
  std::string id;
  if (std::getline(file, id) && !id.empty()) return id;
  // Where /proc is hidden: /run is made anew at every boot.
  struct statx run{};
  if (::statx(AT_FDCWD, "/run", 0, STATX_BTIME, &run) != 0 || (run.stx_mask & STATX_BTIME) == 0) return {};
  return "run-" + std::to_string(run.stx_btime.tv_sec) + '.' + std::to_string(run.stx_btime.tv_nsec);
}

TimeStart continue_time(const std::optional<TimeBefore>& before, const std::string& boot, std::int64_t boot_ms,
                        WallNow wall) {
  // A first start takes its number from the wall clock, so that raw figures in the journal look familiar.
  if (!before) return {std::max<std::int64_t>(wall.ms, 86'400'000) - boot_ms, false};
  const std::int64_t earliest = before->last_seen.time_since_epoch().count();
  if (before->boot_id && !boot.empty() && *before->boot_id == boot && boot_ms + before->offset_ms >= earliest)
    return {before->offset_ms, true};
  if (wall.synchronised && before->wall_minus_engine_ms) {
    const std::int64_t now = wall.ms - *before->wall_minus_engine_ms;
    if (now >= earliest) return {now - boot_ms, true};
  }
  return {earliest + 1000 - boot_ms, false};
}

EngineTime BootClock::now() const {
  const std::int64_t seen = boot_time_ms() + offset_ms_;
  std::int64_t latest = latest_.load(std::memory_order_relaxed);
  while (latest < seen && !latest_.compare_exchange_weak(latest, seen, std::memory_order_relaxed)) {}
  return EngineTime{Duration{std::max(seen, latest)}};
}

std::optional<WallWatch::Seen> WallWatch::look(EngineTime now, WallNow wall) {
  const WallMapped mapping{wall.ms - now.time_since_epoch().count(), wall.synchronised};
  if (!told_) {
    told_ = mapping;
    return Seen{mapping, std::nullopt};
  }
  const std::int64_t step = mapping.wall_minus_engine_ms - told_->wall_minus_engine_ms;
  const bool stepped = std::abs(step) > kStep;
  if (!stepped && mapping.synchronised == told_->synchronised) return std::nullopt;
  told_ = mapping;
  return Seen{mapping, stepped ? std::optional(step) : std::nullopt};
}

}  // namespace riserkeep
