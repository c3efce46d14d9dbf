#include "daemon/render/style.h"

#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <utility>

namespace riserkeep {
namespace {

std::string wrapped_in(bool colour, const char* code, std::string_view text) {
  if (!colour) return std::string(text);
  return std::string(code) + std::string(text) + "\x1b[0m";
}

bool starts_character(char c) { return (static_cast<unsigned char>(c) & 0xC0u) != 0x80u; }

}  // namespace

std::string Style::bold(std::string_view text) const { return wrapped_in(colour, "\x1b[1m", text); }
std::string Style::act(std::string_view text) const { return wrapped_in(colour, "\x1b[1;31m", text); }
std::string Style::see(std::string_view text) const { return wrapped_in(colour, "\x1b[33m", text); }

Style style_for(std::FILE* file) {
  const char* no_color = std::getenv("NO_COLOR");
  const bool wanted = no_color == nullptr || *no_color == '\0';
  return {wanted && ::isatty(::fileno(file)) == 1};
}

std::size_t width(std::string_view text) { return static_cast<std::size_t>(std::ranges::count_if(text, starts_character)); }

std::string padded(std::string_view text, std::size_t columns) {
  std::string out(text);
  const std::size_t has = width(text);
  if (has < columns) out.append(columns - has, ' ');
  return out;
}

std::string right(std::string_view text, std::size_t columns) {
  const std::size_t has = width(text);
  return std::string(has < columns ? columns - has : 0, ' ') + std::string(text);
}

std::vector<std::string> wrapped(std::string_view text, std::size_t columns) {
  std::vector<std::string> lines{""};
  while (!text.empty()) {
    const auto end = text.find(' ');
    std::string_view word = text.substr(0, end);
    text = end == std::string_view::npos ? std::string_view{} : text.substr(end + 1);
    if (word.empty()) continue;
    if (!lines.back().empty() && width(lines.back()) + 1 + width(word) > columns) lines.emplace_back();
    if (!lines.back().empty()) lines.back() += ' ';
    while (width(word) > columns) {
      std::size_t cut = 0;
      for (std::size_t seen = 0; cut < word.size(); ++cut)
        if (starts_character(word[cut]) && seen++ == columns) break;
      lines.back() += word.substr(0, cut);
      word.remove_prefix(cut);
      lines.emplace_back();
    }
    lines.back() += word;
  }
  return lines;
}

std::string hanging(std::string_view first, std::string_view text, std::size_t indent) {
  std::string out(first);
  const std::size_t room = kColumns > indent ? kColumns - indent : kColumns;
  if (width(first) > indent) out += '\n' + std::string(indent, ' ');
  else out = padded(first, indent);
  bool begun = false;
  for (const auto& line : wrapped(text, room)) {
    if (std::exchange(begun, true)) out += std::string(indent, ' ');
    out += line + '\n';
  }
  return out;
}

std::string without_controls(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';
  return out;
}

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

}  // namespace riserkeep
