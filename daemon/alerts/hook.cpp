#include "daemon/alerts/hook.h"

#include <fmt/format.h>

#include "daemon/formats/event_json.h"
#include "daemon/formats/hmac.h"
#include "daemon/formats/rfc3339.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

std::string list(const std::vector<std::string>& texts) {
  std::string out;
  for (const auto& t : texts) out += (out.empty() ? "" : ", ") + json_string(t);
  return "[" + out + "]";
}

}  // namespace

std::string hook_body(const Message& m, const SiteNames& site, const Sending& s) {
  return fmt::format(
      "{{\"format\": 1, \"site\": {{\"id\": {}, \"name\": {}}}, \"notice\": {}, \"kind\": {}, \"time\": {}, \"person\": {}, "
      "\"priority\": {}, \"place\": {}, \"references\": {}, \"subject\": {}, \"short\": {}, \"long\": {}, \"acknowledge\": {}, "
      "\"may_be_a_repeat\": {}, \"stored\": {}}}",
      json_string(site.id), json_string(site.name), m.notice, json_string(word(m.kind)),
      m.wall ? json_string(rfc3339(*m.wall)) : "null", json_string(m.person), json_string(word(m.priority)), json_string(m.place),
      list(m.references), json_string(m.subject), json_string(m.short_text), json_string(m.long_text), list(s.links), s.repeat, s.stored);
}

std::string hook_key(const Message& m, const SiteNames& site) {
  return fmt::format("{}-{}-{}-{}", site.id, m.notice, m.decided.time_since_epoch().count(), m.person);
}

std::vector<std::string> hook_headers(const std::string& secret, std::int64_t unix_seconds, const std::string& body, const std::string& key) {
  return {"Content-Type: application/json", fmt::format("Riserkeep-Time: {}", unix_seconds),
          fmt::format("Riserkeep-Signature: sha256={}", hex(hmac_sha256(secret, fmt::format("{}.{}", unix_seconds, body)))),
          "Idempotency-Key: " + key};
}

}  // namespace riserkeep
