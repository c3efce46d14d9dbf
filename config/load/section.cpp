#include "config/load/section.h"

#include <algorithm>
#include <cctype>
#include <charconv>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace riserkeep {

Section::Section(const Field& map, std::string_view example) : map_(map) {
  if (map.node->kind == Node::Kind::map) return;
  map.error("a map is expected here", fmt::format("write it like {}", example));
}

Section::~Section() {
  if (!map_.is_map()) return;
  for (const Entry& e : map_.node->entries) {
    if (std::find(known_.begin(), known_.end(), e.key) != known_.end()) continue;
    map_.problems->error(e.mark, map_.of(e).path, "unknown key", suggest(e.key, known_));
  }
}

const Entry* Section::find(std::string_view key) const {
  if (!map_.is_map()) return nullptr;
  for (const Entry& e : map_.node->entries)
    if (e.key == key) return &e;
  return nullptr;
}

bool Section::has(std::string_view key) const { return find(key) != nullptr; }

std::optional<Field> Section::get(std::string_view key) {
  known_.emplace_back(key);
  const Entry* e = find(key);
  if (!e) return std::nullopt;
  if (e->value.kind == Node::Kind::nothing) {
    map_.problems->error(e->mark, map_.of(*e).path, "there is no value", "write one after the ':', or remove the key");
    return std::nullopt;
  }
  if (e->value.kind == Node::Kind::scalar && !e->value.quoted && e->value.text == "unknown") return std::nullopt;
  return map_.of(*e);
}

std::optional<Field> Section::need(std::string_view key, std::string_view example) {
  const Entry* e = find(key);
  auto found = get(key);
  const bool unknown = e && e->value.kind == Node::Kind::scalar;
  if (!found && map_.is_map() && (!e || unknown))
    map_.error(unknown ? fmt::format("'{}' cannot be unknown", key) : fmt::format("'{}' is missing", key),
               fmt::format("add '{}'", example));
  return found;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  constexpr std::size_t kLongest = 64;
  a = a.substr(0, kLongest);
  b = b.substr(0, kLongest);
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i)
    for (std::size_t j = 1; j <= b.size(); ++j) {
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0u : 1u)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  return d[a.size()][b.size()];
}

std::string nearest(std::string_view word, const std::vector<std::string>& candidates) {
  const auto plain = [](std::string_view s) {
    std::string out;
    for (const char c : s)
      out += c == '-' || c == ' ' ? '_' : static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return out;
  };
  std::string best;
  std::size_t least = std::max<std::size_t>(1, word.size() / 3) + 1;
  for (const std::string& c : candidates) {
    const std::size_t d = edit_distance(plain(word), plain(c));
    if (d < least) {
      least = d;
      best = c;
    }
  }
  return best;
}

std::string suggest(std::string_view word, const std::vector<std::string>& candidates) {
  if (const std::string near = nearest(word, candidates); !near.empty()) return fmt::format("did you mean '{}'?", near);
  if (candidates.empty()) return "remove it";
  if (candidates.size() > 30) return "docs/site-file.md lists what is known here";
  return fmt::format("use one of: {}", fmt::join(candidates, ", "));
}

std::optional<std::string> read_text(const Field& f) {
  if (f.node->kind != Node::Kind::scalar) {
    f.error("one value is expected here, not a list or map", "write plain text");
    return std::nullopt;
  }
  if (f.node->text.find_first_not_of(" \t\r\n") == std::string::npos) {
    f.error("the text is empty", "write it, or remove the key");
    return std::nullopt;
  }
  return f.node->text;
}

std::optional<bool> read_flag(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  if (*text == "true" || *text == "yes") return true;
  if (*text == "false" || *text == "no") return false;
  f.error(fmt::format("'{}' is neither yes nor no", *text), "write yes or no");
  return std::nullopt;
}

std::optional<std::int64_t> read_integer(const Field& f, std::int64_t low, std::int64_t high) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  std::string_view digits = *text;
  if (!digits.empty() && (digits[0] == '-' || digits[0] == '+')) digits.remove_prefix(1);
  const std::string range = fmt::format("write a whole number from {} to {}", low, high);
  if (digits.empty() || !std::all_of(digits.begin(), digits.end(), [](char c) { return c >= '0' && c <= '9'; })) {
    f.error(fmt::format("'{}' is not a whole number", *text), range);
    return std::nullopt;
  }
  if (digits.size() > 1 && digits[0] == '0') {
    f.error(fmt::format("'{}' begins with 0, which some programs read as octal", *text),
            "write it without leading zeros");
    return std::nullopt;
  }
  std::int64_t v = 0;
  const char* first = text->data() + ((*text)[0] == '+' ? 1 : 0);
  const auto [end, code] = std::from_chars(first, text->data() + text->size(), v);
  if (code != std::errc{} || v < low || v > high) {
    f.error(fmt::format("{} is out of range", *text), range);
    return std::nullopt;
  }
  return v;
}

std::optional<std::size_t> read_choice(const Field& f, const std::vector<std::string>& words) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  for (std::size_t i = 0; i < words.size(); ++i)
    if (words[i] == *text) return i;
  f.error(fmt::format("'{}' is not known here", *text), suggest(*text, words));
  return std::nullopt;
}

}  // namespace riserkeep
