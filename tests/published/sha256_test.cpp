#include "daemon/formats/sha256.h"

#include <doctest/doctest.h>

using namespace riserkeep;

TEST_CASE("SHA-256: example values of FIPS 180-4 (NIST, SHA256 one-block and empty message)") {
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}
