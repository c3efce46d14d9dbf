// SHA-256 by OpenSSL, for the hash chain of the journal and the identity of a site file.
#pragma once

#include <array>
#include <string>
#include <string_view>

namespace riserkeep {

std::string sha256(std::string_view bytes);      // 32 bytes
std::string sha256_hex(std::string_view bytes);  // 64 lower-case digits

}  // namespace riserkeep
