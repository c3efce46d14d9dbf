#include "daemon/formats/hmac.h"

#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/rand.h>

#include <stdexcept>

#include "daemon/formats/input_log.h"

namespace riserkeep {

std::string hmac_sha256(std::string_view key, std::string_view text) {
  std::string out(32, '\0');
  unsigned int size = 0;
  if (!HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()), reinterpret_cast<const unsigned char*>(text.data()), text.size(),
            reinterpret_cast<unsigned char*>(out.data()), &size))
    throw std::runtime_error("HMAC-SHA256 is not available");
  return out;
}

std::string hex(std::string_view bytes) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    out += digits[byte >> 4];
    out += digits[byte & 15];
  }
  return out;
}

std::string random_bytes(std::size_t count) {
  std::string out(count, '\0');
  if (RAND_bytes(reinterpret_cast<unsigned char*>(out.data()), static_cast<int>(count)) != 1)
    throw std::runtime_error("the system has no random bytes");
  return out;
}

bool equal_in_time(std::string_view a, std::string_view b) {
  return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

std::string base64url(std::string_view bytes) {
  std::string out = base64(bytes);
  while (out.ends_with('=')) out.pop_back();
  for (char& c : out) c = c == '+' ? '-' : c == '/' ? '_' : c;
  return out;
}

}  // namespace riserkeep
