// Integers of one to ten bytes, seven bits each, low ones first; the top bit says that more follow.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace riserkeep {

inline void put_varint(std::string& to, std::uint64_t v) {
  for (; v >= 0x80; v >>= 7) to += static_cast<char>(v | 0x80);
  to += static_cast<char>(v);
}

inline std::optional<std::uint64_t> get_varint(std::string_view& from) {
  std::uint64_t v = 0;
  for (unsigned i = 0; i < 10 && i < from.size(); ++i) {
    const auto b = static_cast<std::uint64_t>(static_cast<unsigned char>(from[i]));
    v |= (b & 0x7F) << (7 * i);
    if (b < 0x80) {
      from.remove_prefix(i + 1);
      return v;
    }
  }
  return std::nullopt;
}

// Small magnitudes of either sign become small numbers: 0, -1, 1, -2 ... -> 0, 1, 2, 3 ...
constexpr std::uint64_t fold(std::int64_t v) {
  return (static_cast<std::uint64_t>(v) << 1) ^ static_cast<std::uint64_t>(v >> 63);
}
constexpr std::int64_t unfold(std::uint64_t v) {
  return static_cast<std::int64_t>((v >> 1) ^ (~(v & 1) + 1));
}
inline void put_signed(std::string& to, std::int64_t v) { put_varint(to, fold(v)); }

// Outside bytes may hold any difference: wraps instead of overflowing.
constexpr std::int64_t wrapping_add(std::int64_t a, std::int64_t b) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) + static_cast<std::uint64_t>(b));
}
constexpr std::int64_t wrapping_sub(std::int64_t a, std::int64_t b) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) - static_cast<std::uint64_t>(b));
}

}  // namespace riserkeep
