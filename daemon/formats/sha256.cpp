#include "daemon/formats/sha256.h"

#include <openssl/evp.h>

#include <stdexcept>

namespace riserkeep {

std::string sha256(std::string_view bytes) {
  std::string digest(32, '\0');
  unsigned int size = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), reinterpret_cast<unsigned char*>(digest.data()), &size, EVP_sha256(), nullptr) != 1)
    throw std::runtime_error("SHA-256 is not available");
  return digest;
}

std::string sha256_hex(std::string_view bytes) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string hex;
  for (const char c : sha256(bytes)) {
    const auto byte = static_cast<unsigned char>(c);
    hex += digits[byte >> 4];
    hex += digits[byte & 15];
  }
  return hex;
}

}  // namespace riserkeep
