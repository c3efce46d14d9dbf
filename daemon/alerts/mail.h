// A message as mail: RFC 5322 headers, plain text, CRLF line ends, under 64 KiB.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/alerts/message.h"
#include "rules/site.h"

namespace riserkeep {

// What only the moment of sending knows.
struct Sending {
  bool repeat = false;                 // it may have arrived before
  bool stored = true;                  // false: the record did not take it
  std::vector<std::string> links;      // that acknowledge, in the order of the references
};
struct SiteNames { std::string id, name, time_zone; };

inline constexpr std::size_t kLongestMail = 60'000;   // bytes of text; the whole stays under 64 KiB

// `by`: mail gets everything, sms_by_mail only the short text.
std::string mail_text(const Message&, const Reach&, const std::string& from, const SiteNames&, const Sending&);
// The same for one message and person, whatever number of times it is sent.
std::string message_id(const Message&, const std::string& from, const SiteNames&);

// RFC 2047: as it is when printable ASCII, else encoded words, folded. `name`: beside an address, where commas
// and the like would mean something.
std::string header_text(std::string_view utf8, bool name = false);
// RFC 2045 section 6.7; `text` has LF or CRLF line ends, the result CRLF.
std::string quoted_printable(std::string_view text);
// RFC 5322 section 3.3: "Wed, 25 Nov 2026 04:12:07 -0600".
std::string mail_date(const std::string& zone, WallTime);

}  // namespace riserkeep
