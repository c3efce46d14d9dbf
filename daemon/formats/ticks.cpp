// The number side of the telemetry CSV: integer ticks as decimals, exactly, both ways.
#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "daemon/formats/telemetry_csv.h"

namespace riserkeep {
namespace {

constexpr std::int64_t kMostTicks = 1'000'000'000'000'000;  // 1e15: every one of them is exact in a double

std::int64_t power_of_ten(int n) {
  std::int64_t p = 1;
  for (int i = 0; i < n; ++i) p *= 10;
  return p;
}

// "1.2e1" and the like; rare, so by way of a double.
std::optional<std::int64_t> parse_exponent(std::string_view s, int decimals) {
  double v = 0;
  if (!s.empty() && s[0] == '+') s.remove_prefix(1);
  const auto [end, code] = std::from_chars(s.data(), s.data() + s.size(), v);
  if (code != std::errc{} || end != s.data() + s.size() || !std::isfinite(v)) return std::nullopt;
  const double ticks = std::round(v * static_cast<double>(power_of_ten(decimals)));
  if (std::abs(ticks) > static_cast<double>(kMostTicks)) return std::nullopt;
  return static_cast<std::int64_t>(ticks);
}

}  // namespace

std::string ticks_text(std::int64_t ticks, int decimals) {
  const bool negative = ticks < 0;
  const std::uint64_t size = negative ? ~static_cast<std::uint64_t>(ticks) + 1 : static_cast<std::uint64_t>(ticks);
  const auto unit = static_cast<std::uint64_t>(power_of_ten(decimals));
  if (decimals == 0) return fmt::format("{}{}", negative ? "-" : "", size);
  return fmt::format("{}{}.{:0{}}", negative ? "-" : "", size / unit, size % unit, decimals);
}

std::optional<std::int64_t> parse_ticks(std::string_view s, int decimals) {
  std::size_t i = 0;
  const bool negative = !s.empty() && s[0] == '-';
  if (negative || (!s.empty() && s[0] == '+')) ++i;
  std::int64_t v = 0;
  int after = 0, digits = 0;
  bool point = false, round_up = false;
  for (; i < s.size(); ++i) {
    const char c = s[i];
    if (c == '.' && !point) { point = true; continue; }
    if (c == 'e' || c == 'E') return parse_exponent(s, decimals);
    if (c < '0' || c > '9') return std::nullopt;
    ++digits;
    if (point && after == decimals) {
      round_up = round_up || c >= '5';
      ++after;
    } else if (!point || after < decimals) {
      v = v * 10 + (c - '0');
      if (v > kMostTicks) return std::nullopt;
      if (point) ++after;
    }
  }
  if (digits == 0) return std::nullopt;
  for (; after < decimals; ++after) v *= 10;
  if (round_up) ++v;
  if (v > kMostTicks) return std::nullopt;
  return negative ? -v : v;
}

}  // namespace riserkeep
