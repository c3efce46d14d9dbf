// The calendar of the site for the engine, which knows no time zones: mornings, quiet hours, maintenance windows,
// dated chores, purges due. Pure: from the wall time, the site and the engine's own record of what has turned
// already, which makes it safe to ask again after a step of the clock or a restart.
//
// Rules, all in the site's IANA zone:
// - A morning (and the daily "all well") comes at the first look at or after its time on a local date of its days,
//   once per date: late after a stop or a step forward, not again after a step back. A time in the hour that is left
//   out in spring comes when that hour is over; in the hour that comes twice in autumn, the first time.
// - Quiet hours follow the clock on the wall.
// - A window begins like a morning and lasts its real length.
// - A dated chore turns 30 days before its date, or within 30 days after it, once per date.
// - A wall clock that is not trusted turns nothing, and ends what lasts: any doubt wakes people rather than not.
#pragma once

#include <optional>
#include <vector>

#include "rules/calendar_book.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

class Calendar {
 public:
  explicit Calendar(const Site&);          // must outlive this
  // What has turned and is not in the book. `now` absent: the wall clock is not to be trusted.
  std::vector<CalendarTurned> look(std::optional<WallTime> now, const CalendarBook&) const;

 private:
  struct Local;
  using Turned = std::vector<CalendarTurned>;
  void mornings(const Local&, const CalendarBook&, Turned&) const;
  void stretches(const Local&, const CalendarBook&, Turned&) const;
  void chores(const Local&, const CalendarBook&, Turned&) const;
  void purges(WallTime now, const CalendarBook&, Turned&) const;
  bool on(const DayTime&, std::int32_t local_day) const;
  bool lasts(const Local&, const RecurringWindow&) const;

  const Site& site_;
  std::vector<std::int32_t> holidays_;     // local days, in order
};

}  // namespace riserkeep
