#include "config/load/times.h"

#include <charconv>
#include <chrono>

#include <fmt/format.h>

namespace riserkeep {

namespace {

std::optional<int> digits(std::string_view s, std::size_t at, std::size_t count) {
  if (at + count > s.size()) return std::nullopt;
  int v = 0;
  const char* first = s.data() + at;
  if (*first < '0' || *first > '9') return std::nullopt;
  const auto [end, code] = std::from_chars(first, first + count, v);
  return code == std::errc{} && end == first + count ? std::optional{v} : std::nullopt;
}

std::optional<int> offset_minutes(std::string_view zone) {
  if (zone == "Z" || zone == "z") return 0;
  if (zone.size() != 6 || (zone[0] != '+' && zone[0] != '-') || zone[3] != ':') return std::nullopt;
  const auto h = digits(zone, 1, 2), m = digits(zone, 4, 2);
  if (!h || !m || *h > 23 || *m > 59) return std::nullopt;
  return (zone[0] == '-' ? -1 : 1) * (*h * 60 + *m);
}

// Whole seconds are enough for a date that a person writes.
std::optional<WallTime> parse(std::string_view s) {
  const auto year = digits(s, 0, 4), month = digits(s, 5, 2), day = digits(s, 8, 2);
  const auto hour = digits(s, 11, 2), minute = digits(s, 14, 2), second = digits(s, 17, 2);
  if (!year || !month || !day || !hour || !minute || !second) return std::nullopt;
  if (s[4] != '-' || s[7] != '-' || (s[10] != 'T' && s[10] != 't') || s[13] != ':' || s[16] != ':') return std::nullopt;
  if (*hour > 23 || *minute > 59 || *second > 59) return std::nullopt;
  const auto offset = offset_minutes(s.substr(19));
  const std::chrono::year_month_day date{std::chrono::year{*year}, std::chrono::month{static_cast<unsigned>(*month)},
                                         std::chrono::day{static_cast<unsigned>(*day)}};
  if (!offset || !date.ok()) return std::nullopt;
  const auto at = std::chrono::sys_days{date} + hours(*hour) + minutes(*minute - *offset) + seconds(*second);
  return WallTime{std::chrono::duration_cast<milliseconds>(at.time_since_epoch()).count()};
}

}  // namespace

std::optional<WallTime> read_time(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  const auto at = parse(*text);
  if (!at)
    f.error(fmt::format("'{}' is not a time", *text),
            "write it like 2031-10-13T01:00:00Z or with an offset, 2031-10-13T01:00:00-05:00");
  return at;
}

}  // namespace riserkeep
