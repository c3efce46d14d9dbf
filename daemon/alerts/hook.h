// A message as an HTTPS post: JSON, signed, with a key that tells a repeat. docs/formats/hook.md.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/alerts/mail.h"

namespace riserkeep {

std::string hook_body(const Message&, const SiteNames&, const Sending&);
std::string hook_key(const Message&, const SiteNames&);   // Idempotency-Key
// Content type, time, signature over "time.body", idempotency key.
std::vector<std::string> hook_headers(const std::string& secret, std::int64_t unix_seconds, const std::string& body, const std::string& key);

}  // namespace riserkeep
