#include "config/load/local_times.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>

#include <fmt/format.h>

namespace riserkeep {

namespace {

constexpr std::array<std::string_view, 7> kDays{"monday", "tuesday",  "wednesday", "thursday",
                                                "friday", "saturday", "sunday"};
constexpr std::uint8_t kEvery = 0x7f, kWeekdays = 0x1f, kWeekends = 0x60;
constexpr std::string_view kWrite = "write it like 'weekdays 07:00', 'daily 07:00' or 'sunday 02:30'";

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

std::string_view trimmed(std::string_view s) {
  while (!s.empty() && s.front() == ' ') s.remove_prefix(1);
  while (!s.empty() && s.back() == ' ') s.remove_suffix(1);
  return s;
}

std::optional<int> two_digits(std::string_view s) {
  int v = -1;
  const auto [end, code] = std::from_chars(s.data(), s.data() + s.size(), v);
  return s.size() == 2 && code == std::errc{} && end == s.data() + 2 && v >= 0 ? std::optional{v} : std::nullopt;
}

std::optional<int> parse_clock(std::string_view s) {
  if (s.size() != 5 || s[2] != ':') return std::nullopt;
  const auto h = two_digits(s.substr(0, 2)), m = two_digits(s.substr(3));
  if (!h || !m || *h > 23 || *m > 59) return std::nullopt;
  return *h * 60 + *m;
}

std::optional<std::size_t> day_of(std::string_view word) {
  for (std::size_t i = 0; i < kDays.size(); ++i)
    if (word == kDays[i] || word == kDays[i].substr(0, 3)) return i;
  return std::nullopt;
}

// "mon" or "monday to friday"; may run over Sunday.
std::optional<std::uint8_t> days_of(std::string_view part) {
  const auto to = part.find(" to ");
  const auto first = day_of(trimmed(part.substr(0, to)));
  const auto last = to == std::string_view::npos ? first : day_of(trimmed(part.substr(to + 4)));
  if (!first || !last) return std::nullopt;
  unsigned bits = 0;
  for (std::size_t d = *first;; d = (d + 1) % 7) {
    bits |= 1u << d;
    if (d == *last) break;
  }
  return static_cast<std::uint8_t>(bits);
}

std::optional<std::uint8_t> parse_days(std::string_view text) {
  unsigned bits = 0;
  while (true) {
    const auto comma = text.find(',');
    const auto some = days_of(trimmed(text.substr(0, comma)));
    if (!some) return std::nullopt;
    bits |= *some;
    if (comma == std::string_view::npos) return static_cast<std::uint8_t>(bits);
    text.remove_prefix(comma + 1);
  }
}

std::optional<DayTime> parse_day_time(std::string_view text) {
  const auto space = text.rfind(' ');
  if (space == std::string_view::npos) return std::nullopt;
  const std::string_view when = trimmed(text.substr(0, space));
  const auto minute = parse_clock(text.substr(space + 1));
  if (!minute) return std::nullopt;
  if (when == "daily") return DayTime{kEvery, true, *minute};
  if (when == "weekdays") return DayTime{kWeekdays, false, *minute};
  if (when == "weekends") return DayTime{kWeekends, true, *minute};
  const auto named = parse_days(when);
  return named ? std::optional{DayTime{*named, true, *minute}} : std::nullopt;
}

// What is wrong, as near as can be told: the day's name is the usual slip.
std::string cure_of(std::string_view text) {
  const std::string first = lower(text.substr(0, text.find_first_of(" ,")));
  std::vector<std::string> words{"daily", "weekdays", "weekends"};
  words.insert(words.end(), kDays.begin(), kDays.end());
  if (std::find(words.begin(), words.end(), first) != words.end() || day_of(first))
    return fmt::format("write the time as 07:00, from 00:00 to 23:59: {}", kWrite.substr(9));
  const std::string near = nearest(first, words);
  return near.empty() ? std::string(kWrite) : fmt::format("did you mean '{}'? {}", near, kWrite);
}

std::optional<std::chrono::year_month_day> parse_date(std::string_view s) {
  int year = 0;
  if (s.size() != 10 || s[4] != '-' || s[7] != '-') return std::nullopt;
  const auto [end, code] = std::from_chars(s.data(), s.data() + 4, year);
  const auto month = two_digits(s.substr(5, 2)), day = two_digits(s.substr(8));
  if (code != std::errc{} || end != s.data() + 4 || year < 1 || !month || !day) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(*month)},
                                         std::chrono::day{static_cast<unsigned>(*day)}};
  return date.ok() ? std::optional{date} : std::nullopt;
}

}  // namespace

std::optional<DayTime> read_day_time(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  const auto t = parse_day_time(lower(trimmed(*text)));
  if (!t) f.error(fmt::format("'{}' is not a time", *text), cure_of(*text));
  return t;
}

std::string clock_text(int minute) { return fmt::format("{:02}:{:02}", minute / 60, minute % 60); }

std::string day_time_text(const DayTime& t) {
  std::string which;
  if (t.days == kEvery) which = "daily";
  else if (t.days == kWeekdays && !t.holidays) which = "weekdays";
  else if (t.days == kWeekends) which = "weekends";
  else
    for (std::size_t i = 0; i < kDays.size(); ++i)
      if ((t.days >> i & 1u) != 0) which += (which.empty() ? "" : ", ") + std::string(kDays[i].substr(0, 3));
  return which + " " + clock_text(t.minute);
}

std::optional<QuietHours> read_quiet_hours(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  const auto to = text->find(" to ");
  const auto from = parse_clock(trimmed(std::string_view(*text).substr(0, to)));
  const auto until = to == std::string::npos ? std::nullopt : parse_clock(trimmed(std::string_view(*text).substr(to + 4)));
  if (!from || !until) {
    f.error(fmt::format("'{}' is not a stretch of the day", *text), "write it like '22:00 to 06:00'");
    return std::nullopt;
  }
  if (*from == *until) {
    f.error("quiet hours end where they begin", "write two different times, or remove the key: only critical ones break them");
    return std::nullopt;
  }
  return QuietHours{*from, *until};
}

std::optional<std::string> read_date(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  if (!parse_date(*text)) {
    f.error(fmt::format("'{}' is not a date", *text), "write it like 2026-12-25");
    return std::nullopt;
  }
  return text;
}

std::optional<Chore::Date> read_day_of_year(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  const auto date = parse_date("2001-" + *text);  // no leap year: the day exists every year
  if (!date) {
    f.error(fmt::format("'{}' is not a day of the year", *text), "write month and day, like 10-15 for 15 October");
    return std::nullopt;
  }
  return Chore::Date{static_cast<int>(static_cast<unsigned>(date->month())),
                     static_cast<int>(static_cast<unsigned>(date->day()))};
}

std::vector<Field> one_or_more(const Field& f) {
  if (f.node->kind != Node::Kind::list) return {f};
  std::vector<Field> out;
  for (const Node& item : f.node->items) out.push_back({&item, f.problems, f.path});
  if (out.empty()) f.error("the list is empty", "write at least one, or remove the key");
  return out;
}

}  // namespace riserkeep
