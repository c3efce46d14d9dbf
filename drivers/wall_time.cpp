#include "drivers/wall_time.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

namespace riserkeep {
namespace {

constexpr std::int64_t kDayMs = 86'400'000;

// Reads fixed-width fields off the front of a text; once wrong, stays wrong.
class Fields {
 public:
  explicit Fields(std::string_view text) : rest_(text) {}

  int digits(std::size_t count, int low, int high) {
    if (rest_.size() < count) return fail();
    int value = 0;
    for (const char c : rest_.substr(0, count)) {
      if (c < '0' || c > '9') return fail();
      value = value * 10 + (c - '0');
    }
    rest_.remove_prefix(count);
    return value < low || value > high ? fail() : value;
  }

  char one_of(std::string_view allowed) {
    if (rest_.empty() || allowed.find(rest_.front()) == std::string_view::npos) {
      fail();
      return '\0';
    }
    const char c = rest_.front();
    rest_.remove_prefix(1);
    return c;
  }

  int fraction_ms() {
    if (rest_.empty() || rest_.front() != '.') return 0;
    rest_.remove_prefix(1);
    int ms = 0, seen = 0;
    while (!rest_.empty() && rest_.front() >= '0' && rest_.front() <= '9') {
      if (seen < 3) ms = ms * 10 + (rest_.front() - '0');
      ++seen;
      rest_.remove_prefix(1);
    }
    if (seen == 0) return fail();
    for (; seen < 3; ++seen) ms *= 10;
    return ms;
  }

  bool done() const { return good_ && rest_.empty(); }

 private:
  int fail() {
    good_ = false;
    return 0;
  }
  std::string_view rest_;
  bool good_ = true;
};

}  // namespace

std::optional<WallTime> parse_rfc3339(std::string_view text) {
  Fields in(text);
  const int year = in.digits(4, 0, 9999);
  in.one_of("-");
  const int month = in.digits(2, 1, 12);
  in.one_of("-");
  const int day = in.digits(2, 1, 31);
  in.one_of("Tt ");
  const int hour = in.digits(2, 0, 23);
  in.one_of(":");
  const int minute = in.digits(2, 0, 59);
  in.one_of(":");
  const int second = in.digits(2, 0, 60);
  const int fraction = in.fraction_ms();
  const char zone = in.one_of("Zz+-");
  int offset = 0;
  if (zone == '+' || zone == '-') {
    offset = 60 * in.digits(2, 0, 23);
    in.one_of(":");
    offset += in.digits(2, 0, 59);
    if (zone == '-') offset = -offset;
  }
  const std::chrono::year_month_day date{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!in.done() || !date.ok()) return std::nullopt;
  const std::int64_t day_number = std::chrono::sys_days{date}.time_since_epoch().count();
  const std::int64_t minute_of_utc = day_number * 1440 + hour * 60 + minute - offset;
  if (second == 60 && (minute_of_utc % 1440 + 1440) % 1440 != 1439) return std::nullopt;
  return WallTime{(minute_of_utc * 60 + second) * 1000 + (second == 60 ? 0 : fraction)};
}

std::string format_rfc3339(WallTime time, int decimals) {
  const std::int64_t day_number = time.ms >= 0 ? time.ms / kDayMs : (time.ms - (kDayMs - 1)) / kDayMs;
  const std::int64_t in_day = time.ms - day_number * kDayMs;
  const std::chrono::year_month_day date{std::chrono::sys_days{std::chrono::days{day_number}}};
  std::string text = fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}", static_cast<int>(date.year()),
                                 static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                                 in_day / 3'600'000, in_day / 60'000 % 60, in_day / 1000 % 60);
  const std::string fraction = fmt::format("{:03}", in_day % 1000);
  if (decimals > 0) text += "." + fraction.substr(0, static_cast<std::size_t>(std::min(decimals, 3)));
  return text + "Z";
}

}  // namespace riserkeep
