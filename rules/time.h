// The engine's time: one axis per installation that never goes back and continues over reboots.
// Neither a boot's clock nor the wall's; there is no now(): time always arrives as an argument.
#pragma once

#include <chrono>
#include <cstdint>

namespace riserkeep {

using Duration = std::chrono::milliseconds;

struct EngineClock {
  using duration = Duration;
  using rep = duration::rep;
  using period = duration::period;
  using time_point = std::chrono::time_point<EngineClock>;
  static constexpr bool is_steady = true;
};
using EngineTime = EngineClock::time_point;

using std::chrono::days;
using std::chrono::hours;
using std::chrono::milliseconds;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr double in_seconds(Duration d) { return static_cast<double>(d.count()) / 1000.0; }
constexpr double in_hours(Duration d) { return in_seconds(d) / 3600.0; }
constexpr Duration from_seconds(double s) { return Duration{static_cast<std::int64_t>(s * 1000.0 + (s < 0 ? -0.5 : 0.5))}; }

// Wall-clock time is a label only: milliseconds since 1970-01-01T00:00:00Z.
struct WallTime {
  std::int64_t ms = 0;
  friend constexpr auto operator<=>(WallTime, WallTime) = default;
};

}  // namespace riserkeep
