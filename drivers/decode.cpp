#include "drivers/decode.h"

#include <algorithm>
#include <bit>
#include <cmath>

namespace riserkeep {
namespace {

constexpr std::uint8_t high(std::uint16_t r) { return static_cast<std::uint8_t>(r >> 8); }
constexpr std::uint8_t low(std::uint16_t r) { return static_cast<std::uint8_t>(r & 0xFF); }

std::uint16_t ordered_word(std::uint16_t r, WordOrder order) {
  const bool swapped = order == WordOrder::badc || order == WordOrder::dcba;
  return swapped ? static_cast<std::uint16_t>((r << 8) | (r >> 8)) : r;
}

std::uint32_t ordered_long(std::span<const std::uint16_t> r, WordOrder order) {
  std::uint32_t v = 0;
  for (const std::uint8_t b : ordered_bytes(r[0], r[1], order)) v = (v << 8) | b;
  return v;
}

Raw integer(std::int64_t code) { return {static_cast<double>(code), code}; }

// Beyond this a double cannot hold every tick; no instrument of the trade comes near it.
constexpr double kLargestTicks = 1e15;

}  // namespace

int register_count(ValueType type) {
  switch (type) {
    case ValueType::bit:
    case ValueType::int16:
    case ValueType::uint16: return 1;
    case ValueType::int32:
    case ValueType::uint32:
    case ValueType::float32: return 2;
  }
  return 1;
}

std::array<std::uint8_t, 4> ordered_bytes(std::uint16_t first, std::uint16_t second, WordOrder order) {
  switch (order) {
    case WordOrder::abcd: return {high(first), low(first), high(second), low(second)};
    case WordOrder::cdab: return {high(second), low(second), high(first), low(first)};
    case WordOrder::badc: return {low(first), high(first), low(second), high(second)};
    case WordOrder::dcba: return {low(second), high(second), low(first), high(first)};
  }
  return {};
}

Raw raw_value(std::span<const std::uint16_t> registers, ValueType type, WordOrder order) {
  if (registers.size() < static_cast<std::size_t>(register_count(type))) return {};
  switch (type) {
    case ValueType::bit: return integer(registers[0] != 0 ? 1 : 0);
    case ValueType::int16: return integer(static_cast<std::int16_t>(ordered_word(registers[0], order)));
    case ValueType::uint16: return integer(ordered_word(registers[0], order));
    case ValueType::int32: return integer(static_cast<std::int32_t>(ordered_long(registers, order)));
    case ValueType::uint32: return integer(ordered_long(registers, order));
    case ValueType::float32: {
      const float v = std::bit_cast<float>(ordered_long(registers, order));
      if (!std::isfinite(v)) return {};
      return {static_cast<double>(v), std::nullopt};
    }
  }
  return {};
}

LoopState ne43(double milliamp) {
  if (milliamp <= 3.6) return {Quality::bad, Why::failed_low};
  if (milliamp >= 21.0) return {Quality::bad, Why::failed_high};
  if (milliamp < 3.8 || milliamp > 20.5) return {Quality::uncertain, Why::out_of_range};
  return {Quality::good, Why::none};
}

Decoded convert(const Raw& raw, const Conversion& conversion, Signal signal) {
  if (!raw.value || !std::isfinite(*raw.value)) return {};
  if (raw.code && std::ranges::find(conversion.invalid, *raw.code) != conversion.invalid.end()) return {};
  Decoded out{std::nullopt, Quality::good, Why::none};
  double value = *raw.value * conversion.scale + conversion.offset;
  if (conversion.loop) {
    const double milliamp = *raw.value * conversion.loop->milliamp_per_count;
    const LoopState state = ne43(milliamp);
    out.quality = state.quality;
    out.why = state.why;
    value = conversion.loop->low + (milliamp - 4.0) / 16.0 * (conversion.loop->high - conversion.loop->low);
  }
  const double ticks = value / tick_of(signal);
  if (!(std::abs(ticks) < kLargestTicks)) return {std::nullopt, Quality::bad, Why::out_of_range};
  out.ticks = std::llround(ticks);
  const bool below = conversion.valid_low && value < *conversion.valid_low;
  const bool above = conversion.valid_high && value > *conversion.valid_high;
  if ((below || above) && out.quality != Quality::bad) {
    out.quality = Quality::bad;
    out.why = Why::out_of_range;
  }
  return out;
}

Decoded decode_registers(std::span<const std::uint16_t> registers, const RegisterPoint& point, Signal signal) {
  const Raw raw = raw_value(registers, point.type, point.order);
  if (!info_of(signal).contact) return convert(raw, point.conversion, signal);
  if (!raw.value) return {};
  if (raw.code && std::ranges::find(point.conversion.invalid, *raw.code) != point.conversion.invalid.end()) return {};
  return decode_bit(*raw.value != 0.0, point.conversion, signal);
}

Decoded decode_bit(bool on, const Conversion& conversion, Signal signal) {
  const bool active = on != conversion.inverted;
  if (info_of(signal).contact) return {active ? 1 : 0, Quality::good, Why::none};
  return convert(integer(active ? 1 : 0), conversion, signal);
}

}  // namespace riserkeep
