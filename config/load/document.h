// A YAML text as a tree of our own, with the line and column of everything. Only plain data: maps, lists and
// scalars. Anchors, aliases, tags, merge keys, duplicate keys and second documents are refused.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/load/problem.h"

namespace riserkeep {

struct Entry;

struct Node {
  enum class Kind { nothing, scalar, list, map };
  Kind kind = Kind::nothing;
  Mark mark;
  std::string text;  // scalars
  bool quoted = false;
  std::vector<Entry> entries;  // maps, in the order of the file
  std::vector<Node> items;     // lists
};

struct Entry {
  std::string key;
  Mark mark;
  Node value;
};

inline constexpr std::size_t kLargestFile = 1u << 20;  // bytes

// Nothing when the text cannot be read as one tree; what is wrong goes into `problems`.
std::optional<Node> parse_document(const std::string& text, Problems& problems);

}  // namespace riserkeep
