// Local times as a person writes them: "weekdays 07:00", "mon, thu 02:30", "22:00 to 06:00", "2026-12-25", "10-15".
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/load/section.h"
#include "rules/site.h"

namespace riserkeep {

// Days, then a time from 00:00 to 23:59. Days: daily, weekdays (Monday to Friday, not on holidays), weekends, names
// of days (three letters will do) with commas between, or "monday to friday". Nothing else leaves holidays out.
std::optional<DayTime> read_day_time(const Field&);
// "weekdays 07:00", as above.
std::string day_time_text(const DayTime&);

std::optional<QuietHours> read_quiet_hours(const Field&);
std::string clock_text(int minute);  // "07:00"

// A date of the calendar, "2026-12-25".
std::optional<std::string> read_date(const Field&);
// A day of every year, "10-15".
std::optional<Chore::Date> read_day_of_year(const Field&);

// One text, or a list of texts, each with its place in the file.
std::vector<Field> one_or_more(const Field&);

}  // namespace riserkeep
