// Local time for the engine: both nights when clocks change, holidays, steps of the clock, restarts.
// The moments of change are those of the IANA time zone database (as `zdump -v` prints them).
#include "daemon/runtime/calendar.h"

#include <date/date.h>
#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "drivers/wall_time.h"

using namespace riserkeep;

namespace {

WallTime utc(const std::string& text) {
  const auto t = parse_rfc3339(text + ":00Z");
  REQUIRE(t);
  return *t;
}

std::string text(WallTime t) {
  return date::format("%Y-%m-%dT%H:%M", date::floor<std::chrono::minutes>(date::sys_time<std::chrono::milliseconds>{std::chrono::milliseconds{t.ms}}));
}

Site in(const std::string& zone) {
  Site s;
  s.time_zone = zone;
  return s;
}

void add_person(Site& s, std::optional<DayTime> at, std::optional<QuietHours> quiet = {}) {
  Person p;
  p.id = "works";
  p.at = at;
  p.quiet = quiet;
  s.people.push_back(p);
}

constexpr std::uint8_t kDaily = 0x7f, kSunday = 0x40, kWeekdays = 0x1f;

struct Told {
  std::string when;
  CalendarTurned what;
};

// Looks once a minute, as the loop does once a second.
struct Clockwork {
  Site site;
  Calendar calendar;
  CalendarBook book;
  EngineTime engine{};
  std::vector<Told> told;

  explicit Clockwork(Site s) : site(std::move(s)), calendar(site) {}
  void look(std::optional<WallTime> now) {
    engine += minutes(1);
    for (const CalendarTurned& t : calendar.look(now, book)) {
      told.push_back({now ? text(*now) : "unsure", t});
      book.take(site, t, engine);
    }
  }
  void walk(const std::string& from, const std::string& until) {
    for (WallTime t = utc(from); t <= utc(until); t.ms += 60'000) look(t);
  }
  std::string line() const {
    std::string out;
    for (const Told& t : told) out += (out.empty() ? "" : " ") + std::string(t.what.begins ? "+" : "-") + t.when;
    return out;
  }
};

std::string window_of(const std::string& zone, std::uint8_t days, int minute, int length, const std::string& from, const std::string& until) {
  Site s = in(zone);
  s.windows.push_back({"test", "weekly test", "Works", {}, {days, true, minute}, length});
  Clockwork c(s);
  c.walk(from, until);
  return c.line();
}

std::string morning_of(const std::string& zone, int minute, const std::string& from, const std::string& until) {
  Site s = in(zone);
  add_person(s, DayTime{kDaily, true, minute});
  Clockwork c(s);
  c.walk(from, until);
  return c.line();
}

constexpr int at(int hour, int minute) { return hour * 60 + minute; }

}  // namespace

TEST_CASE("calendar: a window from 02:30 to 04:00 over the nights when clocks change, in three zones") {
  // Chicago: 2026-03-08 02:00 CST -> 03:00 CDT (08:00Z), 2026-11-01 02:00 CDT -> 01:00 CST (07:00Z).
  CHECK(window_of("America/Chicago", kSunday, at(2, 30), 90, "2026-03-08T06:00", "2026-03-08T18:00") == "+2026-03-08T08:00 -2026-03-08T09:30");
  CHECK(window_of("America/Chicago", kSunday, at(2, 30), 90, "2026-11-01T05:00", "2026-11-01T18:00") == "+2026-11-01T08:30 -2026-11-01T10:00");
  CHECK(window_of("America/Chicago", kSunday, at(1, 30), 90, "2026-11-01T05:00", "2026-11-01T18:00") == "+2026-11-01T06:30 -2026-11-01T08:00");
  // Berlin: 2026-03-29 02:00 CET -> 03:00 CEST (01:00Z), 2026-10-25 03:00 CEST -> 02:00 CET (01:00Z).
  CHECK(window_of("Europe/Berlin", kSunday, at(2, 30), 90, "2026-03-28T22:00", "2026-03-29T12:00") == "+2026-03-29T01:00 -2026-03-29T02:30");
  CHECK(window_of("Europe/Berlin", kSunday, at(2, 30), 90, "2026-10-24T22:00", "2026-10-25T12:00") == "+2026-10-25T00:30 -2026-10-25T02:00");
  // Lord Howe moves by half an hour: 2026-10-04 02:00 -> 02:30 (2026-10-03T15:30Z), 2026-04-05 02:00 -> 01:30 (2026-04-04T15:00Z).
  CHECK(window_of("Australia/Lord_Howe", kSunday, at(2, 15), 90, "2026-10-03T13:00", "2026-10-03T23:00") == "+2026-10-03T15:30 -2026-10-03T17:00");
  CHECK(window_of("Australia/Lord_Howe", kSunday, at(2, 30), 90, "2026-10-03T13:00", "2026-10-03T23:00") == "+2026-10-03T15:30 -2026-10-03T17:00");
  CHECK(window_of("Australia/Lord_Howe", kSunday, at(1, 45), 90, "2026-04-04T12:00", "2026-04-04T23:00") == "+2026-04-04T14:45 -2026-04-04T16:15");
  CHECK(window_of("Australia/Lord_Howe", kSunday, at(2, 30), 90, "2026-04-04T12:00", "2026-04-04T23:00") == "+2026-04-04T16:00 -2026-04-04T17:30");
}

TEST_CASE("calendar: an ordinary night, a window over midnight, and the day it belongs to") {
  CHECK(window_of("America/Chicago", kSunday, at(2, 30), 90, "2026-06-07T00:00", "2026-06-08T12:00") == "+2026-06-07T07:30 -2026-06-07T09:00");
  CHECK(window_of("Europe/Berlin", kSunday, at(23, 0), 180, "2026-06-07T00:00", "2026-06-08T22:00") == "+2026-06-07T21:00 -2026-06-08T00:00");
  CHECK(window_of("Europe/Berlin", kDaily, at(0, 0), 24 * 60, "2026-06-07T00:00", "2026-06-10T22:00") == "+2026-06-07T00:00");   // without a gap
}

TEST_CASE("calendar: a morning is told once a date, on both nights in three zones") {
  CHECK(morning_of("America/Chicago", at(2, 30), "2026-03-08T06:00", "2026-03-09T07:00") == "+2026-03-08T08:00");
  CHECK(morning_of("America/Chicago", at(1, 30), "2026-11-01T05:30", "2026-11-02T07:00") == "+2026-11-01T06:30");
  CHECK(morning_of("Europe/Berlin", at(2, 30), "2026-03-28T23:30", "2026-03-29T20:00") == "+2026-03-29T01:00");
  CHECK(morning_of("Europe/Berlin", at(2, 30), "2026-10-24T22:30", "2026-10-25T22:00") == "+2026-10-25T00:30");
  CHECK(morning_of("Australia/Lord_Howe", at(2, 15), "2026-10-03T14:00", "2026-10-04T12:00") == "+2026-10-03T15:30");
  CHECK(morning_of("Australia/Lord_Howe", at(1, 45), "2026-04-04T13:30", "2026-04-05T12:00") == "+2026-04-04T14:45");
}

TEST_CASE("calendar: weekdays leave out the weekend and the holidays, named days do not") {
  Site s = in("Europe/Berlin");
  s.holidays = {"2026-12-25", "2027-01-01"};
  add_person(s, DayTime{kWeekdays, false, at(7, 0)});
  Clockwork c(s);
  c.walk("2026-12-23T12:00", "2026-12-29T12:00");   // Wednesday to Tuesday
  CHECK(c.line() == "+2026-12-23T12:00 +2026-12-24T06:00 +2026-12-28T06:00 +2026-12-29T06:00");
  Site daily = in("Europe/Berlin");
  daily.holidays = s.holidays;
  add_person(daily, DayTime{0x10, true, at(7, 0)});   // friday
  Clockwork d(daily);
  d.walk("2026-12-23T12:00", "2026-12-29T12:00");
  CHECK(d.line() == "+2026-12-25T06:00");
}

TEST_CASE("calendar: steps of the clock repeat no morning and skip none of the dates it shows") {
  Site s = in("America/Chicago");
  add_person(s, DayTime{kDaily, true, at(7, 0)});
  Clockwork c(s);
  c.walk("2026-06-10T11:30", "2026-06-10T12:30");
  CHECK(c.line() == "+2026-06-10T12:00");
  c.walk("2026-06-10T10:00", "2026-06-10T13:00");     // two and a half hours back: not again
  CHECK(c.told.size() == 1);
  c.look(utc("2026-06-13T15:00"));                    // forward by days: that date's, late
  CHECK(c.told.size() == 2);
  CHECK(c.told.back().what.local_day == c.told.front().what.local_day + 3);
  c.walk("2026-06-11T13:00", "2026-06-13T20:00");     // it was wrong: the dates between are told, the 13th not again
  CHECK(c.told.size() == 4);
}

TEST_CASE("calendar: a morning slept through is told late on its day, and a restart repeats nothing") {
  Site s = in("America/Chicago");
  add_person(s, DayTime{kDaily, true, at(7, 0)});
  Clockwork c(s);
  c.look(utc("2026-06-10T22:45"));                    // 17:45
  CHECK(c.line() == "+2026-06-10T22:45");
  Clockwork again(s);
  Archive with = Archive::saving();
  with.section(1, 1, c.book);
  Archive from = Archive::loading(std::move(with).take());
  CHECK(from.section(1, 1, again.book));
  again.walk("2026-06-10T22:46", "2026-06-11T04:00");
  CHECK(again.told.empty());
}

TEST_CASE("calendar: quiet hours follow the clock on the wall and end before the morning") {
  Site s = in("Europe/Berlin");
  add_person(s, DayTime{kDaily, true, at(6, 0)}, QuietHours{at(22, 0), at(6, 0)});
  Clockwork c(s);
  c.walk("2026-03-28T12:00", "2026-03-29T06:00");     // the short night
  REQUIRE(c.told.size() == 4);
  CHECK(c.told[0].what.key == CalendarKey::morning);
  CHECK(c.told[1].when == "2026-03-28T21:00");
  CHECK(c.told[1].what.begins);
  CHECK(c.told[2].when == "2026-03-29T04:00");
  CHECK(c.told[2].what.key == CalendarKey::quiet_hours);
  CHECK_FALSE(c.told[2].what.begins);
  CHECK(c.told[3].when == "2026-03-29T04:00");
  CHECK(c.told[3].what.key == CalendarKey::morning);
}

TEST_CASE("calendar: a clock that is not trusted ends what lasts and turns nothing") {
  Site s = in("Europe/Berlin");
  add_person(s, DayTime{kDaily, true, at(6, 0)}, QuietHours{at(22, 0), at(6, 0)});
  s.windows.push_back({"test", "weekly test", "Works", {}, {kDaily, true, at(22, 0)}, 120});
  Clockwork c(s);
  c.look(utc("2026-06-07T20:30"));
  REQUIRE(c.told.size() == 3);                        // quiet, window, and the morning of that day, late
  c.look(std::nullopt);
  REQUIRE(c.told.size() == 5);
  CHECK_FALSE(c.told[3].what.begins);
  CHECK_FALSE(c.told[4].what.begins);
  c.look(std::nullopt);
  CHECK(c.told.size() == 5);
}

TEST_CASE("calendar: drains fall due 30 days before their date, every year, once") {
  Site s = in("America/Chicago");
  Chore drains;
  drains.kind = ChoreKind::low_point_drains;
  drains.before = Chore::Date{10, 15};
  s.chores = {drains};
  Clockwork c(s);
  for (WallTime t = utc("2026-01-01T12:00"); t <= utc("2028-12-31T12:00"); t.ms += 3'600'000) c.look(t);
  CHECK(c.line() == "+2026-09-15T05:00 +2027-09-15T05:00 +2028-09-15T05:00");   // local midnight, CDT
  Clockwork late(s);
  late.look(utc("2026-11-10T12:00"));                 // a first start after the date: nobody knows whether it was done
  CHECK(late.told.size() == 1);
  Clockwork spring(s);
  spring.look(utc("2026-11-20T12:00"));
  CHECK(spring.told.empty());
}

TEST_CASE("calendar: a purge's date comes, and goes when a later one is written") {
  Site s = in("America/Chicago");
  s.systems.resize(1);
  s.systems[0].id = "dock";
  s.systems[0].purity.emplace();
  s.systems[0].purity->purge_due = utc("2026-06-10T00:00");
  Clockwork c(s);
  c.walk("2026-06-09T23:00", "2026-06-10T01:00");
  CHECK(c.line() == "+2026-06-10T00:00");
  c.site.systems[0].purity->purge_due = utc("2026-07-01T00:00");
  c.look(utc("2026-06-10T02:00"));
  CHECK(c.line() == "+2026-06-10T00:00 -2026-06-10T02:00");
}

TEST_CASE("calendar: the daily 'all well' has its time") {
  Site s = in("Asia/Kolkata");
  s.messages.all_well = DayTime{kDaily, true, at(8, 0)};
  Clockwork c(s);
  c.walk("2026-06-10T00:00", "2026-06-11T12:00");
  CHECK(c.line() == "+2026-06-10T02:30 +2026-06-11T02:30");
  CHECK(c.told[0].what.key == CalendarKey::all_well);
}

TEST_CASE("calendar: an unknown zone is UTC") {
  CHECK(morning_of("Nowhere/At_all", at(7, 0), "2026-06-10T01:00", "2026-06-10T12:00") == "+2026-06-10T07:00");
}
