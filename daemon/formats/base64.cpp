// Base64 with padding, RFC 4648 section 4.
#include <array>

#include "daemon/formats/input_log.h"

namespace riserkeep {
namespace {

constexpr std::string_view kLetters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

constexpr std::array<std::int8_t, 256> kValues = [] {
  std::array<std::int8_t, 256> t{};
  for (auto& v : t) v = -1;
  for (std::size_t i = 0; i < kLetters.size(); ++i)
    t[static_cast<unsigned char>(kLetters[i])] = static_cast<std::int8_t>(i);
  return t;
}();

}  // namespace

std::string base64(std::string_view bytes) {
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const auto at = [&](std::size_t k) { return i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u; };
    const unsigned v = at(0) << 16 | at(1) << 8 | at(2);
    out += kLetters[v >> 18];
    out += kLetters[v >> 12 & 63];
    out += i + 1 < bytes.size() ? kLetters[v >> 6 & 63] : '=';
    out += i + 2 < bytes.size() ? kLetters[v & 63] : '=';
  }
  return out;
}

std::optional<std::string> from_base64(std::string_view text) {
  if (text.size() % 4 != 0) return std::nullopt;
  std::size_t padding = 0;
  while (padding < 2 && !text.empty() && text.back() == '=') {
    text.remove_suffix(1);
    ++padding;
  }
  std::string out;
  unsigned held = 0, bits = 0;
  for (const char c : text) {
    const int v = kValues[static_cast<unsigned char>(c)];
    if (v < 0) return std::nullopt;
    held = (held << 6 | static_cast<unsigned>(v)) & 0xFFFFu;
    bits += 6;
    if (bits >= 8) out += static_cast<char>(held >> (bits -= 8) & 0xFF);
  }
  if ((held & ((1u << bits) - 1)) != 0) return std::nullopt;
  return out;
}

}  // namespace riserkeep
