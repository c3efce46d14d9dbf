// The link in a message that acknowledges without a password: signed, for one occurrence and one person, until
// it expires, once. The page behind it asks before it acts: mail scanners follow links too.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "daemon/history/outbox_rows.h"
#include "rules/ids.h"
#include "rules/time.h"

namespace riserkeep {

struct AckClaim {
  std::string reference;               // "7K6"
  std::uint64_t occurrence = 0;        // a later occurrence of the same alarm is not acknowledged by it
  std::string person;
  WallTime until;
};

class AckLinks {
 public:
  // The key is made at the first start: 32 random bytes, mode 0600. Throws std::runtime_error (where, what, cure).
  static std::string key_in(const std::filesystem::path& state_dir);

  explicit AckLinks(std::string key) : key_(std::move(key)) {}
  void restore(std::vector<SpentToken> spent);

  // Letters, digits, '-', '_' and one '.': fit for a URL.
  std::string make(const AckClaim&) const;
  // What it claims, or why it does not count. Does not use it up.
  std::variant<AckClaim, std::string> check(std::string_view token, WallTime now) const;
  // The same, and it is used up; what is given back goes to the store.
  std::variant<SpentToken, std::string> spend(std::string_view token, WallTime now);

 private:
  std::string key_;
  std::map<std::string, std::int64_t> spent_;   // SHA-256 -> until
};

}  // namespace riserkeep
