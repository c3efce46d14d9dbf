// HMAC-SHA256 (RFC 2104, FIPS 198-1), random bytes and equal-time comparison, by OpenSSL.
#pragma once

#include <string>
#include <string_view>

namespace riserkeep {

std::string hmac_sha256(std::string_view key, std::string_view text);   // 32 bytes
std::string hex(std::string_view bytes);                                // lower case
std::string random_bytes(std::size_t count);                            // throws when the system has none
bool equal_in_time(std::string_view, std::string_view);                 // takes as long whatever differs
// RFC 4648 section 5, without padding.
std::string base64url(std::string_view bytes);

}  // namespace riserkeep
