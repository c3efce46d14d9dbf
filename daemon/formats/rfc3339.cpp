#include "daemon/formats/rfc3339.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

namespace riserkeep {
namespace {

constexpr std::int64_t kDayMs = 86'400'000;
constexpr std::int64_t kFirstMs = -62'167'219'200'000;  // 0000-01-01T00:00:00Z
constexpr std::int64_t kLastMs = 253'402'300'799'999;   // 9999-12-31T23:59:59.999Z

// `n` digits at `at`, or -1.
int digits(std::string_view s, std::size_t at, std::size_t n) {
  if (at + n > s.size()) return -1;
  int v = 0;
  for (std::size_t i = at; i < at + n; ++i) {
    if (s[i] < '0' || s[i] > '9') return -1;
    v = v * 10 + (s[i] - '0');
  }
  return v;
}

std::optional<std::int64_t> days_of(std::string_view s) {
  const int y = digits(s, 0, 4), m = digits(s, 5, 2), d = digits(s, 8, 2);
  if (y < 0 || m < 1 || d < 1 || s[4] != '-' || s[7] != '-') return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{y}, std::chrono::month{static_cast<unsigned>(m)},
                                         std::chrono::day{static_cast<unsigned>(d)}};
  if (!date.ok()) return std::nullopt;
  return std::chrono::sys_days{date}.time_since_epoch().count();
}

// "Z" or "+02:00"; minutes east of UTC.
std::optional<int> offset_of(std::string_view s) {
  if (s == "Z" || s == "z") return 0;
  if (s.size() != 6 || (s[0] != '+' && s[0] != '-') || s[3] != ':') return std::nullopt;
  const int h = digits(s, 1, 2), m = digits(s, 4, 2);
  if (h < 0 || h > 23 || m < 0 || m > 59) return std::nullopt;
  return s[0] == '-' ? -(h * 60 + m) : h * 60 + m;
}

}  // namespace

std::string rfc3339(WallTime t) {
  const std::int64_t ms = std::clamp(t.ms, kFirstMs, kLastMs);
  const std::int64_t day = (ms - (ms < 0 ? kDayMs - 1 : 0)) / kDayMs;
  const auto rest = static_cast<int>(ms - day * kDayMs);
  const std::chrono::year_month_day date{std::chrono::sys_days{std::chrono::days{day}}};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), rest / 3'600'000,
                     rest / 60'000 % 60, rest / 1000 % 60, rest % 1000);
}

std::optional<WallTime> parse_rfc3339(std::string_view s) {
  if (s.size() < 20 || (s[10] != 'T' && s[10] != 't' && s[10] != ' ')) return std::nullopt;
  const auto day = days_of(s);
  const int h = digits(s, 11, 2), m = digits(s, 14, 2), sec = digits(s, 17, 2);
  if (!day || h < 0 || h > 23 || m < 0 || m > 59 || sec < 0 || sec > 60 || s[13] != ':' || s[16] != ':')
    return std::nullopt;
  std::size_t at = 19;
  int ms = 0;
  if (s[at] == '.') {
    int weight = 100;
    const std::size_t first = ++at;
    for (; at < s.size() && s[at] >= '0' && s[at] <= '9'; ++at, weight /= 10) ms += (s[at] - '0') * weight;
    if (at == first) return std::nullopt;
  }
  const auto offset = offset_of(s.substr(at));
  if (!offset) return std::nullopt;
  const std::int64_t total = *day * 86'400 + h * 3600 + (m - *offset) * 60 + sec;
  return WallTime{total * 1000 + ms};
}

}  // namespace riserkeep
