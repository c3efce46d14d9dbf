#include "daemon/history/clock_map.h"

#include <algorithm>

namespace riserkeep {

std::optional<std::int64_t> ClockMap::offset_ms(EngineTime t) const {
  const auto after = std::upper_bound(marks_.begin(), marks_.end(), t,
                                      [](EngineTime a, const ClockMark& m) { return a < m.engine; });
  auto at = after;
  while (at != marks_.begin() && !std::prev(at)->wall_minus_engine_ms) --at;
  if (at != marks_.begin()) {
    const ClockMark& mark = *std::prev(at);
    if (mark.synchronised) return mark.wall_minus_engine_ms;
    for (auto later = after; later != marks_.end() && later->boot_id == mark.boot_id; ++later)
      if (later->synchronised && later->wall_minus_engine_ms) return later->wall_minus_engine_ms;
    return mark.wall_minus_engine_ms;
  }
  const auto known = std::find_if(after, marks_.end(), [](const ClockMark& m) { return m.wall_minus_engine_ms.has_value(); });
  return known == marks_.end() ? std::nullopt : known->wall_minus_engine_ms;
}

std::optional<WallTime> ClockMap::wall(EngineTime t) const {
  const auto offset = offset_ms(t);
  if (!offset) return std::nullopt;
  return WallTime{t.time_since_epoch().count() + *offset};
}

}  // namespace riserkeep
