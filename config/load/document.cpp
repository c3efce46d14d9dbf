#include "config/load/document.h"

#include <algorithm>
#include <exception>
#include <sstream>

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/mark.h>
#include <yaml-cpp/parser.h>

namespace riserkeep {

namespace {

constexpr std::size_t kDeepest = 24;
constexpr std::size_t kMostNodes = 50'000;
constexpr std::size_t kWidest = 1000;  // keys of one map

struct GiveUp : std::exception {};  // the problem is already in the list

Mark to_mark(const YAML::Mark& m) { return {m.line + 1, m.column + 1}; }

class Tree : public YAML::EventHandler {
 public:
  explicit Tree(Problems& problems) : problems_(problems) {}
  Node take() { return std::move(root_); }

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnAnchor(const YAML::Mark& m, const std::string& name) override {
    problems_.error(to_mark(m), path(), fmt::format("anchor '&{}' is not accepted", name),
                    "write the value out where it is needed");
  }
  void OnAlias(const YAML::Mark& m, YAML::anchor_t) override {
    problems_.error(to_mark(m), path(), "an alias ('*name') is not accepted", "write the value out where it is needed");
    place({Node::Kind::nothing, to_mark(m), {}, false, {}, {}});
  }
  void OnNull(const YAML::Mark& m, YAML::anchor_t) override {
    place({Node::Kind::nothing, to_mark(m), {}, false, {}, {}});
  }
  void OnScalar(const YAML::Mark& m, const std::string& tag, YAML::anchor_t, const std::string& value) override {
    if (tag != "?" && tag != "!" && !tag.empty()) refuse_tag(m, tag);
    place({Node::Kind::scalar, to_mark(m), value, tag == "!", {}, {}});
  }
  void OnSequenceStart(const YAML::Mark& m, const std::string& tag, YAML::anchor_t,
                       YAML::EmitterStyle::value) override {
    begin(m, tag, Node::Kind::list);
  }
  void OnSequenceEnd() override { end(); }
  void OnMapStart(const YAML::Mark& m, const std::string& tag, YAML::anchor_t, YAML::EmitterStyle::value) override {
    begin(m, tag, Node::Kind::map);
  }
  void OnMapEnd() override { end(); }

 private:
  struct Open {
    Node node;
    std::optional<Entry> key;
  };

  std::string path() const {
    std::string out;
    for (const Open& o : open_)
      if (o.key) out += (out.empty() ? "" : ".") + o.key->key;
    return out;
  }
  void refuse_tag(const YAML::Mark& m, const std::string& tag) {
    problems_.error(to_mark(m), path(), fmt::format("tag '{}' is not accepted", tag), "remove it");
  }
  void begin(const YAML::Mark& m, const std::string& tag, Node::Kind kind) {
    if (tag != "?" && tag != "!" && !tag.empty()) refuse_tag(m, tag);
    if (open_.size() >= kDeepest) {
      problems_.error(to_mark(m), path(), fmt::format("nested more than {} deep", kDeepest),
                      "flatten it: no key of a site file lies that deep");
      throw GiveUp{};
    }
    open_.push_back({{kind, to_mark(m), {}, false, {}, {}}, {}});
  }
  void end() {
    Node done = std::move(open_.back().node);
    open_.pop_back();
    place(std::move(done));
  }
  void place(Node node) {
    if (++count_ > kMostNodes) {
      problems_.error(node.mark, "", fmt::format("more than {} values", kMostNodes), "one file describes one site");
      throw GiveUp{};
    }
    if (open_.empty()) {
      root_ = std::move(node);
      return;
    }
    Open& in = open_.back();
    if (in.node.kind == Node::Kind::list) {
      in.node.items.push_back(std::move(node));
      return;
    }
    if (!in.key) {
      take_key(in, node);
      return;
    }
    if (in.node.entries.size() >= kWidest) {
      problems_.error(node.mark, path(), fmt::format("more than {} keys in one map", kWidest),
                      "one file describes one site");
      throw GiveUp{};
    }
    in.key->value = std::move(node);
    if (!is_duplicate(in)) in.node.entries.push_back(std::move(*in.key));
    in.key.reset();
  }
  void take_key(Open& in, const Node& node) {
    if (node.kind != Node::Kind::scalar || node.text.empty())
      problems_.error(node.mark, path(), "a key must be a word", "write 'key: value'");
    if (node.text == "<<" && !node.quoted)
      problems_.error(node.mark, path(), "the merge key '<<' is not accepted", "write the keys out");
    in.key = Entry{node.text, node.mark, {}};
  }
  bool is_duplicate(const Open& in) {
    for (const Entry& e : in.node.entries) {
      if (e.key != in.key->key) continue;
      problems_.error(in.key->mark, path(), fmt::format("this key is given twice, first in line {}", e.mark.line),
                      "keep one of them");
      return true;
    }
    return false;
  }

  Problems& problems_;
  std::vector<Open> open_;
  Node root_;
  std::size_t count_ = 0;
};

Mark mark_of_offset(const std::string& text, std::size_t at) {
  const auto begin = text.begin();
  const auto here = begin + static_cast<std::ptrdiff_t>(at);
  const auto lines = std::count(begin, here, '\n');
  const std::size_t line_start = at == 0 ? 0 : text.rfind('\n', at - 1) + 1;  // npos + 1 = 0
  return {static_cast<int>(lines) + 1, static_cast<int>(at - line_start) + 1};
}

// Length of the UTF-8 sequence at `i`, 0 when it is not one (RFC 3629, overlong and surrogates included).
std::size_t utf8_length(const std::string& s, std::size_t i) {
  const auto byte = [&](std::size_t k) { return i + k < s.size() ? static_cast<unsigned char>(s[i + k]) : 0u; };
  const auto tail = [&](std::size_t k) { return (byte(k) & 0xC0u) == 0x80u; };
  const unsigned b = byte(0);
  if (b < 0x80) return 1;
  if (b >= 0xC2 && b <= 0xDF) return tail(1) ? 2 : 0;
  if (b >= 0xE0 && b <= 0xEF) {
    const bool ok = tail(1) && tail(2) && !(b == 0xE0 && byte(1) < 0xA0) && !(b == 0xED && byte(1) > 0x9F);
    return ok ? 3 : 0;
  }
  if (b >= 0xF0 && b <= 0xF4) {
    const bool ok = tail(1) && tail(2) && tail(3) && !(b == 0xF0 && byte(1) < 0x90) && !(b == 0xF4 && byte(1) > 0x8F);
    return ok ? 4 : 0;
  }
  return 0;
}

bool is_text(const std::string& text, Problems& problems) {
  if (text.size() > kLargestFile) {
    problems.error({}, "", fmt::format("the file has {} bytes, more than {}", text.size(), kLargestFile),
                   "give the site file, not a recording");
    return false;
  }
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t length = utf8_length(text, i);
    const bool control = (c < 0x20 && c != '\n' && c != '\r' && c != '\t') || c == 0x7f;
    if (control || length == 0) {
      problems.error(mark_of_offset(text, i), "",
                     control ? fmt::format("a control character (byte 0x{:02x}): this is no text file", c)
                             : fmt::format("byte 0x{:02x} is not UTF-8 text", c),
                     control ? "give the YAML site file" : "save the file as UTF-8");
      return false;
    }
    i += length;
  }
  return true;
}

bool line_starts_with_tab(const std::string& text, int line) {
  std::istringstream in(text);
  std::string s;
  for (int i = 0; i < line && std::getline(in, s);) ++i;
  const auto first = s.find_first_not_of(" \t");
  return s.substr(0, first).find('\t') != std::string::npos;
}

void report_syntax(const YAML::ParserException& e, const std::string& text, Problems& problems) {
  const Mark at = e.mark.is_null() ? Mark{} : to_mark(e.mark);
  std::string cure =
      "look at this line and the one before: indentation, a missing ':' or space after it, an open bracket or quote";
  if (at.line > 0 && line_starts_with_tab(text, at.line)) cure = "indent with spaces, not tabs";
  problems.error(at, "", fmt::format("not readable as YAML: {}", e.msg), cure);
}

}  // namespace

std::optional<Node> parse_document(const std::string& text, Problems& problems) {
  if (!is_text(text, problems)) return std::nullopt;
  Tree tree(problems);
  try {
    std::istringstream in(text);
    YAML::Parser parser(in);
    if (!parser.HandleNextDocument(tree)) {
      problems.error({1, 1}, "", "the file is empty", "start with 'format: 1'; docs/site-file.md shows a whole one");
      return std::nullopt;
    }
    if (parser) {
      const auto line = text.rfind("\n---");
      problems.error(line == std::string::npos ? Mark{} : mark_of_offset(text, line + 1), "",
                     "a second YAML document follows ('---')", "one file describes one site: remove the rest");
      return std::nullopt;
    }
  } catch (const YAML::ParserException& e) {
    report_syntax(e, text, problems);
    return std::nullopt;
  } catch (const GiveUp&) { return std::nullopt; } catch (const std::exception& e) {
    problems.error({}, "", fmt::format("not readable as YAML: {}", e.what()), "compare with an example site file");
    return std::nullopt;
  }
  return tree.take();
}

}  // namespace riserkeep
