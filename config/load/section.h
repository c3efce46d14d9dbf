// Reading one map of the site file: keys are asked for by name, and what nobody asked for is unknown.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/load/document.h"

namespace riserkeep {

// A value with its place in the file, ready to complain.
struct Field {
  const Node* node;
  Problems* problems;
  std::string path;
  void error(std::string what, std::string cure) const {
    problems->error(node->mark, path, std::move(what), std::move(cure));
  }
  void warn(std::string what, std::string cure) const {
    problems->warn(node->mark, path, std::move(what), std::move(cure));
  }
  bool is_map() const { return node->kind == Node::Kind::map; }
  Field of(const Entry& e) const { return {&e.value, problems, path.empty() ? e.key : path + "." + e.key}; }
};

// Its destructor reports the keys that were never asked for, with the nearest known one.
class Section {
 public:
  explicit Section(const Field& map, std::string_view example = "{key: value}");
  ~Section();
  Section(const Section&) = delete;
  Section& operator=(const Section&) = delete;

  // Absent, without a value (which is complained about) or `unknown`: nothing.
  std::optional<Field> get(std::string_view key);
  // Also complains when it is absent; `example` is a whole "key: value".
  std::optional<Field> need(std::string_view key, std::string_view example);
  bool has(std::string_view key) const;
  const Field& field() const { return map_; }

 private:
  const Entry* find(std::string_view key) const;
  Field map_;
  std::vector<std::string> known_;
};

// Optimal string alignment: insert, delete, replace, swap of neighbours count one each.
std::size_t edit_distance(std::string_view a, std::string_view b);
// The nearest candidate if it is near enough to be meant; else empty.
std::string nearest(std::string_view word, const std::vector<std::string>& candidates);
// "did you mean 'x'" when something is near, else "use one of a, b, c".
std::string suggest(std::string_view word, const std::vector<std::string>& candidates);

std::optional<std::string> read_text(const Field&);  // a non-empty scalar
std::optional<bool> read_flag(const Field&);         // yes, no, true, false
std::optional<std::int64_t> read_integer(const Field&, std::int64_t low, std::int64_t high);
// One of `words`; its index.
std::optional<std::size_t> read_choice(const Field&, const std::vector<std::string>& words);

}  // namespace riserkeep
