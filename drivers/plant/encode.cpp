#include "drivers/plant/encode.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

namespace riserkeep::plant {

namespace {
constexpr double kLowestCurrent = 3.8, kHighestCurrent = 20.5;  // mA, NAMUR NE 43: a working transmitter stays inside

struct Range {
  double low, high;
};

Range range_of(ValueType t) {
  switch (t) {
    case ValueType::int16:
      return {-32768.0, 32767.0};
    case ValueType::int32:
      return {-2147483648.0, 2147483647.0};
    case ValueType::uint32:
      return {0.0, 4294967295.0};
    case ValueType::bit:
      return {0.0, 1.0};
    case ValueType::uint16:
    case ValueType::float32:
      break;
  }
  return {0.0, 65535.0};
}

double raw_of(const Conversion& c, double printed) {
  if (!c.loop) return c.scale != 0 ? (printed - c.offset) / c.scale : 0.0;
  const double span = c.loop->high - c.loop->low;
  const double current = 4.0 + 16.0 * (span != 0 ? (printed - c.loop->low) / span : 0.0);
  return std::clamp(current, kLowestCurrent, kHighestCurrent) / c.loop->milliamp_per_count;
}

double raw_of_nothing(const RegisterPoint& p) {
  if (p.conversion.loop) return 0.0;
  if (!p.conversion.invalid.empty()) return static_cast<double>(p.conversion.invalid.front());
  if (p.type == ValueType::float32) return std::numeric_limits<double>::quiet_NaN();
  const bool has_sign = p.type == ValueType::int16 || p.type == ValueType::int32;
  return has_sign ? range_of(p.type).low : range_of(p.type).high;
}

std::uint16_t swapped(std::uint16_t w) { return static_cast<std::uint16_t>((w >> 8U) | (w << 8U)); }
}  // namespace

std::array<std::uint16_t, 2> encode_words(const RegisterPoint& p, std::optional<double> printed) {
  const double raw = printed ? raw_of(p.conversion, *printed) : raw_of_nothing(p);
  std::uint32_t bits = 0;
  if (p.type == ValueType::float32) {
    bits = std::bit_cast<std::uint32_t>(static_cast<float>(raw));
  } else {
    const Range r = range_of(p.type);
    bits = static_cast<std::uint32_t>(static_cast<std::int64_t>(std::llround(std::clamp(raw, r.low, r.high))));
  }
  auto high = static_cast<std::uint16_t>(bits >> 16U), low = static_cast<std::uint16_t>(bits & 0xffffU);
  if (p.order == WordOrder::badc || p.order == WordOrder::dcba) high = swapped(high), low = swapped(low);
  if (words_of(p.type) == 1) return {low, 0};
  if (p.order == WordOrder::cdab || p.order == WordOrder::dcba) std::swap(high, low);
  return {high, low};
}

bool encode_bit(const RegisterPoint& p, std::optional<double> printed) {
  const bool active = printed.value_or(0.0) > 0.5;
  return active != p.conversion.inverted;
}

}  // namespace riserkeep::plant
