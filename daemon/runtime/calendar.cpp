#include "daemon/runtime/calendar.h"

#include <date/tz.h>

#include <algorithm>
#include <charconv>

namespace riserkeep {
namespace {

constexpr int kChoreAhead = 30;            // days

const date::time_zone* zone_of(const Site& site) {
  try {
    return date::locate_zone(site.time_zone);
  } catch (const std::exception&) {
    return date::locate_zone("Etc/UTC");
  }
}

using Millis = date::sys_time<std::chrono::milliseconds>;

std::int32_t number(date::local_days d) { return static_cast<std::int32_t>(d.time_since_epoch().count()); }
date::local_days day_at(std::int32_t n) { return date::local_days{date::days{n}}; }

std::optional<std::int32_t> parsed(const std::string& text) {
  int y = 0, m = 0, d = 0;
  const char* p = text.data();
  if (text.size() != 10 || std::from_chars(p, p + 4, y).ec != std::errc{} || std::from_chars(p + 5, p + 7, m).ec != std::errc{} ||
      std::from_chars(p + 8, p + 10, d).ec != std::errc{})
    return std::nullopt;
  const date::year_month_day ymd{date::year{y}, date::month{static_cast<unsigned>(m)}, date::day{static_cast<unsigned>(d)}};
  return ymd.ok() ? std::optional(number(date::local_days{ymd})) : std::nullopt;
}

unsigned weekday_bit(std::int32_t day) { return 1u << (date::weekday{day_at(day)}.iso_encoding() - 1); }

bool within(const QuietHours& q, int minute) {
  if (q.from_minute < q.until_minute) return minute >= q.from_minute && minute < q.until_minute;
  return minute >= q.from_minute || minute < q.until_minute;
}

}  // namespace

// The moment as the clock on the wall shows it.
struct Calendar::Local {
  const date::time_zone* zone;
  Millis now;
  std::int32_t day = 0;
  int minute = 0;

  Local(const Site& site, WallTime t) : zone(zone_of(site)), now(std::chrono::milliseconds{t.ms}) {
    const auto local = zone->to_local(std::chrono::floor<std::chrono::seconds>(now));
    const auto midnight = date::floor<date::days>(local);
    day = number(midnight);
    minute = static_cast<int>(std::chrono::duration_cast<std::chrono::minutes>(local - midnight).count());
  }
  // In the hour left out: when it is over. In the one that comes twice: the first time.
  Millis moment(std::int32_t on, int at_minute) const {
    const auto local = day_at(on) + std::chrono::minutes(at_minute);
    return zone->to_sys(date::local_time<std::chrono::seconds>(local), date::choose::earliest);
  }
};

Calendar::Calendar(const Site& site) : site_(site) {
  for (const std::string& text : site.holidays)
    if (const auto day = parsed(text)) holidays_.push_back(*day);
  std::ranges::sort(holidays_);
}

bool Calendar::on(const DayTime& t, std::int32_t day) const {
  return (t.days & weekday_bit(day)) != 0 && (t.holidays || !std::ranges::binary_search(holidays_, day));
}

std::vector<CalendarTurned> Calendar::look(std::optional<WallTime> now, const CalendarBook& book) const {
  Turned out;
  if (now) {
    const Local local(site_, *now);
    stretches(local, book, out);           // a morning that ends the quiet hours comes after their end
    mornings(local, book, out);
    chores(local, book, out);
    purges(*now, book, out);
    return out;
  }
  const auto end = [&](CalendarKey key, std::size_t count) {
    for (std::uint16_t i = 0; i < count; ++i)
      if (book.lasts(site_, key, i)) out.push_back({key, false, i, 0});
  };
  end(CalendarKey::quiet_hours, site_.people.size());
  end(CalendarKey::window, site_.windows.size());
  return out;
}

void Calendar::mornings(const Local& local, const CalendarBook& book, Turned& out) const {
  const auto one = [&](CalendarKey key, std::uint16_t index, const DayTime& at) {
    if (on(at, local.day) && local.now >= local.moment(local.day, at.minute) && !book.told(site_, key, index, local.day))
      out.push_back({key, true, index, local.day});
  };
  for (std::uint16_t i = 0; i < site_.people.size(); ++i)
    if (site_.people[i].at) one(CalendarKey::morning, i, *site_.people[i].at);
  if (site_.messages.all_well) one(CalendarKey::all_well, 0, *site_.messages.all_well);
}

void Calendar::stretches(const Local& local, const CalendarBook& book, Turned& out) const {
  const auto one = [&](CalendarKey key, std::uint16_t index, bool lasts) {
    if (lasts != book.lasts(site_, key, index)) out.push_back({key, lasts, index, local.day});
  };
  for (std::uint16_t i = 0; i < site_.people.size(); ++i) {
    const auto& quiet = site_.people[i].quiet;
    one(CalendarKey::quiet_hours, i, quiet && within(*quiet, local.minute));
  }
  for (std::uint16_t i = 0; i < site_.windows.size(); ++i) one(CalendarKey::window, i, lasts(local, site_.windows[i]));
}

bool Calendar::lasts(const Local& local, const RecurringWindow& w) const {
  for (const std::int32_t day : {local.day, local.day - 1, local.day - 2}) {
    if (!on(w.from, day)) continue;
    const Millis begin = local.moment(day, w.from.minute);
    if (local.now >= begin && local.now < begin + std::chrono::minutes(w.length_minutes)) return true;
  }
  return false;
}

void Calendar::chores(const Local& local, const CalendarBook& book, Turned& out) const {
  const int year = static_cast<int>(date::year_month_day{day_at(local.day)}.year());
  for (std::uint16_t i = 0; i < site_.chores.size(); ++i) {
    const auto& before = site_.chores[i].before;
    if (!before) continue;
    for (const int y : {year - 1, year, year + 1}) {
      const date::year_month_day ymd{date::year{y}, date::month{static_cast<unsigned>(before->month)},
                                     date::day{static_cast<unsigned>(before->day)}};
      const std::int32_t day = number(date::local_days{ymd});
      if (local.day < day - kChoreAhead || local.day > day + kChoreAhead) continue;
      if (!book.told(site_, CalendarKey::chore_due, i, day)) out.push_back({CalendarKey::chore_due, true, i, day});
    }
  }
}

void Calendar::purges(WallTime now, const CalendarBook& book, Turned& out) const {
  for (std::uint16_t i = 0; i < site_.systems.size(); ++i) {
    const auto& goal = site_.systems[i].purity;
    const bool due = goal && goal->purge_due && now >= *goal->purge_due;
    if (due != book.lasts(site_, CalendarKey::purge_due, i)) out.push_back({CalendarKey::purge_due, due, i, 0});
  }
}

}  // namespace riserkeep
