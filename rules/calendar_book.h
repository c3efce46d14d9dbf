// What the calendar has told the engine already. Kept over restarts, by name: the order in the site file may change.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>

#include "rules/archive.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

class CalendarBook {
 public:
  void take(const Site&, const CalendarTurned&, EngineTime at);
  // A stretch that has begun and not ended; a due date that has come.
  bool lasts(const Site&, CalendarKey, std::uint16_t index) const;
  std::optional<EngineTime> since(const Site&, CalendarKey, std::uint16_t index) const;  // while it lasts
  // Told for that local day. Remembers the last kDays of each.
  bool told(const Site&, CalendarKey, std::uint16_t index, std::int32_t local_day) const;
  void forget(CalendarKey, const Site&);   // what lasts of this kind is told anew
  void fit(const Site&);                   // after a restore: forgets what the site no longer has
  void keep(Archive& a) { a(marks_); }

  static constexpr std::size_t kDays = 40; // so many dates, so that a clock led astray repeats nothing

 private:
  struct Mark {
    bool lasts = false;
    EngineTime since;
    std::deque<std::int32_t> days;
    void keep(Archive& a) { a(lasts, since, days); }
  };
  const Mark* find(const Site&, CalendarKey, std::uint16_t index) const;
  std::map<std::string, Mark> marks_;
};

// "morning works", "window weekly-test", "chore low-point-drains hall"; empty: there is no such one.
std::string calendar_name(const Site&, CalendarKey, std::uint16_t index);

}  // namespace riserkeep
