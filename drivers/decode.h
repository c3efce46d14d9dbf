// From registers, bits and payload numbers to quantised readings. Pure: no clock, no I/O.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>

#include "config/wiring.h"
#include "rules/reading.h"

namespace riserkeep {

// What one value came to, before it has a channel and a time.
struct Decoded {
  std::optional<std::int64_t> ticks;  // of the signal's printed unit; absent: no value
  Quality quality = Quality::bad;
  Why why = Why::no_value;
  bool operator==(const Decoded&) const = default;
};

// Registers (or, for `bit`, one bit) that a value of this type takes.
int register_count(ValueType type);

// The four bytes of a 32-bit value, most significant first, from two registers in order of address.
std::array<std::uint8_t, 4> ordered_bytes(std::uint16_t first, std::uint16_t second, WordOrder order);

// The raw number of a point; 16-bit types swap their bytes in badc and dcba. Nothing for a float that is not
// finite. `registers` holds register_count(type) values.
struct Raw {
  std::optional<double> value;
  std::optional<std::int64_t> code;   // of the integer types: compared with Conversion::invalid
};
Raw raw_value(std::span<const std::uint16_t> registers, ValueType type, WordOrder order);

// NAMUR NE 43: 3.8 to 20.5 mA measures; at or below 3.6 mA and at or above 21 mA the transmitter reports a
// failure; the bands between are uncertain.
struct LoopState {
  Quality quality;
  Why why;
};
LoopState ne43(double milliamp);

// Raw number to ticks: invalid codes, current loop or scale and offset, valid range. Never clamps.
Decoded convert(const Raw& raw, const Conversion& conversion, Signal signal);

Decoded decode_registers(std::span<const std::uint16_t> registers, const RegisterPoint& point, Signal signal);
// A coil, discrete input or contact payload; contacts become 0 or 1, other signals go through convert().
Decoded decode_bit(bool on, const Conversion& conversion, Signal signal);

}  // namespace riserkeep
