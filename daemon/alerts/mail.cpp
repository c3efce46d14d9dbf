#include "daemon/alerts/mail.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/formats/local_time.h"

namespace riserkeep {
namespace {

constexpr std::string_view kRepeat = "(may be a repeat)";
constexpr std::size_t kTextMessage = 160;
constexpr std::size_t kLinksShown = 5;

std::string domain_of(const std::string& address) { return address.substr(address.find('@') + 1); }

// Letters, digits, '-' and '.': what may stand in the left part of a message id.
std::string atom(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
    out += plain ? c : '-';
  }
  return out;
}

// Cut at a character, not inside one.
std::string cut(std::string text, std::size_t most) {
  if (text.size() <= most) return text;
  while (most > 0 && (static_cast<unsigned char>(text[most]) & 0xC0u) == 0x80u) --most;
  return text.substr(0, most);
}

std::string short_body(const Message& m, const Sending& s) {
  if (!s.repeat) return m.short_text;
  return cut(m.short_text, kTextMessage - kRepeat.size() - 1) + ' ' + std::string{kRepeat};
}

std::string long_body(const Message& m, const SiteNames& site, const Sending& s) {
  std::string out = m.long_text.empty() ? m.short_text : m.long_text;
  if (out.size() > kLongestMail) out = cut(std::move(out), kLongestMail) + "\n[cut: too long for a mail; `riserkeep status` shows all of it]";
  while (out.ends_with('\n')) out.pop_back();
  out += "\n\n";
  if (s.repeat) out += "This may be a repeat: the program ended before it knew whether the message had gone out.\n";
  if (!s.stored) out += "Not stored: the box's disk did not take this message within 2 s. Look at the disk.\n";
  out += fmt::format("Site: {} ({})\n", site.name, site.id);
  if (!m.place_name.empty()) out += fmt::format("Place: {}\n", m.place_name);
  out += fmt::format("Time: {}\n", m.wall ? local_stamp(site.time_zone, *m.wall) : "not known, the box has no good clock");
  for (std::size_t i = 0; i < std::min(m.references.size(), kLinksShown); ++i) {
    out += fmt::format("Acknowledge {}: riserkeep ack {} --by NAME\n", m.references[i], m.references[i]);
    if (i < s.links.size() && !s.links[i].empty()) out += fmt::format("  or by this link, once, for you alone: {}\n", s.links[i]);
  }
  return out + "\nSupplementary: not a listed fire-alarm control unit. The fire panel and local code rule.\n";
}

bool needs_encoding(std::string_view text) {
  std::size_t line = 0;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    line = c == '\n' ? 0 : line + 1;
    if (byte >= 0x7f || (byte < 0x20 && c != '\n' && c != '\r') || line > 200) return true;
  }
  return false;
}

// Every line end, LF or CRLF or a lone CR, becomes CRLF: a bare LF is refused by strict servers.
std::string with_crlf(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r' && text[i] != '\n') { out += text[i]; continue; }
    if (text[i] == '\r' && i + 1 < text.size() && text[i + 1] == '\n') ++i;
    out += "\r\n";
  }
  if (!out.ends_with("\r\n")) out += "\r\n";
  return out;
}

}  // namespace

std::string message_id(const Message& m, const std::string& from, const SiteNames& site) {
  // The time of the decision keeps numbers apart that were handed out again after a lost record.
  return fmt::format("<{}.{}.{}.{}@{}>", atom(site.id), m.notice, m.decided.time_since_epoch().count(), atom(m.person), domain_of(from));
}

std::string mail_text(const Message& m, const Reach& to, const std::string& from, const SiteNames& site, const Sending& s) {
  const bool sms = to.by == ReachBy::sms_by_mail;
  const std::string body = sms ? short_body(m, s) : long_body(m, site, s);
  const bool encode = needs_encoding(body);
  std::string out;
  if (m.wall) out += "Date: " + mail_date(site.time_zone, *m.wall) + "\r\n";
  out += fmt::format("From: {} <{}>\r\n", header_text("riserkeep " + site.id, true), from);
  out += fmt::format("To: <{}>\r\n", to.address);
  if (!sms) out += fmt::format("Subject: {}\r\n", header_text(cut((s.repeat ? std::string{kRepeat} + " " : "") + m.subject, 300)));
  out += "Message-ID: " + message_id(m, from, site) + "\r\n";
  out += "Auto-Submitted: auto-generated\r\n";       // RFC 3834: holiday replies are not sent to it
  if (m.priority >= Priority::high) out += "Importance: high\r\n";
  out += "MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n";
  out += fmt::format("Content-Transfer-Encoding: {}\r\n\r\n", encode ? "quoted-printable" : "7bit");
  return out + (encode ? quoted_printable(body) : with_crlf(body));
}

}  // namespace riserkeep
