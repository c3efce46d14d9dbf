// From what an instrument says to what its registers hold: the way back of the wiring's decoding.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "config/wiring.h"

namespace riserkeep::plant {

inline int words_of(ValueType t) {
  return t == ValueType::int32 || t == ValueType::uint32 || t == ValueType::float32 ? 2 : 1;
}

// One or two registers as they are on the wire. nullopt = a dead instrument: 0 mA in a current loop, the point's
// own code for "no value" where it has one, else NaN or the lowest (signed) or highest (unsigned) number.
std::array<std::uint16_t, 2> encode_words(const RegisterPoint&, std::optional<double> printed);

bool encode_bit(const RegisterPoint&, std::optional<double> printed);

}  // namespace riserkeep::plant
