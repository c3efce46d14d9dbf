// What SMTP's seven-bit past asks for.
#include <date/tz.h>
#include <fmt/format.h>

#include <exception>

#include "daemon/alerts/mail.h"
#include "daemon/formats/input_log.h"

namespace riserkeep {
namespace {

constexpr std::size_t kWordBytes = 42;    // of UTF-8 in one encoded word: 56 letters and 12 around them, under 75
constexpr std::size_t kLine = 72;         // quoted-printable: 76 at most

bool continues(char c) { return (static_cast<unsigned char>(c) & 0xC0u) == 0x80u; }

}  // namespace

std::string header_text(std::string_view utf8, bool name) {
  std::string plain;
  bool ascii = true;
  for (const char c : utf8) {
    const auto byte = static_cast<unsigned char>(c);
    ascii = ascii && byte < 0x80;
    plain += byte < 0x20 || byte == 0x7f ? ' ' : c;       // a line end here would be a header of its own
  }
  const bool special = name && plain.find_first_of(",;<>@\"\\:[]().") != std::string::npos;
  if (ascii && !special && plain.size() <= 200 && plain.find("=?") == std::string::npos) return plain;
  std::string out;
  for (std::size_t at = 0; at < plain.size();) {
    std::size_t end = std::min(plain.size(), at + kWordBytes);
    while (end < plain.size() && end > at + 1 && continues(plain[end])) --end;
    out += fmt::format("{}=?utf-8?B?{}?=", out.empty() ? "" : "\r\n ", base64(std::string_view{plain}.substr(at, end - at)));
    at = end;
  }
  return out;
}

std::string quoted_printable(std::string_view text) {
  std::string out, line;
  const auto end_line = [&] {
    if (line.ends_with(' ')) line.replace(line.size() - 1, 1, "=20");   // a space at the end gets lost
    if (line.ends_with('\t')) line.replace(line.size() - 1, 1, "=09");
    out += line + "\r\n";
    line.clear();
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\r' || c == '\n') {
      if (c == '\r' && i + 1 < text.size() && text[i + 1] == '\n') ++i;
      end_line();
      continue;
    }
    const auto byte = static_cast<unsigned char>(c);
    const bool plain = (byte >= 0x20 && byte < 0x7f && c != '=') || c == '\t';
    if (line.size() + (plain ? 1 : 3) > kLine) {
      out += line + "=\r\n";
      line.clear();
    }
    line += plain ? std::string(1, c) : fmt::format("={:02X}", byte);
  }
  if (!line.empty()) end_line();
  return out;
}

std::string mail_date(const std::string& zone, WallTime t) {
  const auto second = std::chrono::floor<std::chrono::seconds>(date::sys_time<std::chrono::milliseconds>{std::chrono::milliseconds{t.ms}});
  const date::time_zone* z = nullptr;
  try {
    z = date::locate_zone(zone);
  } catch (const std::exception&) {
    z = date::locate_zone("Etc/UTC");
  }
  return date::format("%a, %d %b %Y %H:%M:%S %z", date::make_zoned(z, second));
}

}  // namespace riserkeep
