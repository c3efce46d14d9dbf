// The terminal: 80 columns, ASCII, colour only on a terminal without NO_COLOR and never the sole carrier.
#pragma once

#include <cstdio>
#include <string>
#include <string_view>
#include <vector>

namespace riserkeep {

inline constexpr std::size_t kColumns = 80;

struct Style {
  bool colour = false;
  std::string bold(std::string_view) const;
  std::string act(std::string_view) const;   // critical, high, out of band: red
  std::string see(std::string_view) const;   // medium: yellow
};
Style style_for(std::FILE*);                 // a terminal, and NO_COLOR (no-color.org) not set

std::size_t width(std::string_view utf8);                      // columns, one per character
std::string padded(std::string_view, std::size_t columns);     // to the right; never cut
std::string right(std::string_view, std::size_t columns);      // to the left
// Words over lines of `columns`; longer words are broken. At least one line.
std::vector<std::string> wrapped(std::string_view text, std::size_t columns);
// `first` and what follows it, continued under column `indent`.
std::string hanging(std::string_view first, std::string_view text, std::size_t indent);
std::string without_controls(std::string_view);                // a name cannot move the cursor
std::string upper(std::string_view);                           // ASCII letters only

}  // namespace riserkeep
