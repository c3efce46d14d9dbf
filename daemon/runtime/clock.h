// Engine time of a live installation: CLOCK_BOOTTIME plus an offset that is continued over restarts and
// reboots. The wall clock is looked at for labels only.
#pragma once

#include <atomic>
#include <cstdint>
#include <optional>
#include <string>

#include "drivers/instrument.h"
#include "rules/input.h"
#include "rules/time.h"

namespace riserkeep {

struct WallNow {
  std::int64_t ms = 0;
  bool synchronised = false;           // as the kernel or the time service says
  bool known = true;                   // false: nobody may be asked
};
WallNow wall_now();
std::int64_t boot_time_ms();           // since boot, suspend included
std::string boot_id();                 // of this boot; empty when the kernel does not tell

// What the last run left behind about time.
struct TimeBefore {
  EngineTime last_seen;                             // of the newest stored input; time never goes back behind it
  std::optional<std::string> boot_id;               // of the boot in which `offset_ms` held
  std::int64_t offset_ms = 0;                       // engine minus boot time
  std::optional<std::int64_t> wall_minus_engine_ms; // newest mapping
};

struct TimeStart { std::int64_t offset_ms = 0; bool gap_known = false; };

// Same boot: exact. Another boot: by the wall clock when it is synchronised and was mapped. Else the gap is
// unknown and time goes on one second after the newest stored input.
TimeStart continue_time(const std::optional<TimeBefore>&, const std::string& boot, std::int64_t boot_ms, WallNow);

class BootClock : public Clock {
 public:
  explicit BootClock(std::int64_t offset_ms) : offset_ms_(offset_ms) {}
  EngineTime now() const override;

 private:
  std::int64_t offset_ms_;
  mutable std::atomic<std::int64_t> latest_{INT64_MIN};  // never back, whichever thread asks
};

// Tells the engine where the wall clock is: at the start and after a step of more than 2 s.
class WallWatch {
 public:
  struct Seen { WallMapped mapping; std::optional<std::int64_t> step_ms; };
  std::optional<Seen> look(EngineTime now, WallNow);

 private:
  std::optional<WallMapped> told_;
};

}  // namespace riserkeep
