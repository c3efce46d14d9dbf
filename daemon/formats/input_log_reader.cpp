// Reading an input log back, line by line, with the place of what is wrong.
#include "daemon/formats/input_log.h"

#include <fmt/format.h>

#include <cstdint>
#include <limits>
#include <nlohmann/json.hpp>

#include "daemon/formats/input_fields.h"

namespace riserkeep {
namespace {

using Json = nlohmann::json;

constexpr std::size_t kLongestHeader = std::size_t{64} << 20;
constexpr std::size_t kLongestLine = std::size_t{64} << 10;

// Fills fields from an object; the first trouble is kept, with the name of the field.
class JsonReader {
 public:
  JsonReader(const Json& from, std::string& trouble) : from_(from), trouble_(trouble) {}

  template <class T> void operator()(std::string_view key, T& v) {
    if (!trouble_.empty()) return;
    if constexpr (requires { names_of(&v); }) {
      alternative(v);
    } else {
      const auto found = from_.find(key);
      if (found == from_.end()) trouble_ = fmt::format("'{}' is missing", key);
      else if (!value(*found, v)) trouble_ = fmt::format("'{}' is not what it must be", key);
    }
  }
  template <class V> void alternative(V& v) {
    const auto& names = names_of(&v);
    for (std::size_t i = 0; i < names.size(); ++i) {
      const auto found = from_.find(names[i]);
      if (found == from_.end()) continue;
      emplace_nth(v, i);
      std::visit([&](auto& x) { if (!object(*found, x) && trouble_.empty()) trouble_ = fmt::format("'{}' must be an object", names[i]); }, v);
      return;
    }
    trouble_ = "holds no kind of input that is known here";
  }

 private:
  template <class T> bool object(const Json& j, T& x) {
    if (!j.is_object()) return false;
    JsonReader inner{j, trouble_};
    describe(inner, x);
    return trouble_.empty();
  }
  template <class T> static bool integer(const Json& j, T& v) {
    if (!j.is_number_integer()) return false;
    if (j.is_number_unsigned()) {
      const auto n = j.get<std::uint64_t>();
      v = static_cast<T>(n);
      return n <= static_cast<std::uint64_t>(std::numeric_limits<T>::max());
    }
    const auto n = j.get<std::int64_t>();
    v = static_cast<T>(n);
    return std::is_signed_v<T> && n >= static_cast<std::int64_t>(std::numeric_limits<T>::min());
  }
  static bool value(const Json& j, bool& v) { return j.is_boolean() && (v = j.get<bool>(), true); }
  static bool value(const Json& j, std::uint16_t& v) { return integer(j, v); }
  static bool value(const Json& j, std::int64_t& v) { return integer(j, v); }
  static bool value(const Json& j, std::int32_t& v) { return integer(j, v); }
  static bool value(const Json& j, double& v) { return j.is_number() && (v = j.get<double>(), true); }
  static bool value(const Json& j, OxygenFraction& v) {
    const auto f = j.is_number() ? OxygenFraction::from_fraction(j.get<double>()) : std::nullopt;
    return f && (v = *f, true);
  }
  static bool value(const Json& j, std::string& v) { return j.is_string() && (v = j.get<std::string>(), true); }
  static bool value(const Json& j, EngineTime& v) {
    std::int64_t ms = 0;
    return integer(j, ms) && (v = EngineTime{Duration{ms}}, true);
  }
  static bool value(const Json& j, OrderNo& v) {
    std::uint64_t n = 0;
    return integer(j, n) && (v = OrderNo{n}, true);
  }
  template <class T> static bool value(const Json& j, Id<T>& v) { return integer(j, v.index); }
  template <class E> requires std::is_enum_v<E>
  static bool value(const Json& j, E& v) {
    if (!j.is_string()) return false;
    const auto& words = EnumWords<E>::words;
    for (std::size_t i = 0; i < words.size(); ++i)
      if (words[i] == j.get_ref<const std::string&>()) return v = static_cast<E>(i), true;
    return false;
  }
  template <class T> static bool value(const Json& j, std::optional<T>& v) {
    v.reset();
    return j.is_null() || value(j, v.emplace());
  }
  bool value(const Json& j, PlaceId& v) { return object(j, v); }

  const Json& from_;
  std::string& trouble_;
};

std::vector<std::string> strings(const Json& j, const char* key) {
  std::vector<std::string> out;
  const auto found = j.find(key);
  if (found == j.end() || !found->is_array()) return out;
  for (const auto& s : *found) out.push_back(s.is_string() ? s.get<std::string>() : std::string{});
  return out;
}

std::optional<InputLogHeader> read_header(const Json& j, std::string& trouble) {
  InputLogHeader h;
  const auto version = j.find("riserkeep_inputs");
  const auto sha = j.find("config_sha256");
  if (version == j.end() || !version->is_number_integer() || sha == j.end() || !sha->is_string()) {
    return trouble = "the first line must tell riserkeep_inputs and config_sha256", std::nullopt;
  }
  if (*version != 1) return trouble = "written by a newer version; replay it with that one", std::nullopt;
  h.config_sha256 = sha->get<std::string>();
  if (const auto s = j.find("site"); s != j.end() && s->is_string()) h.site = s->get<std::string>();
  if (const auto n = j.find("first_event_seq"); n != j.end() && n->is_number_unsigned())
    h.first_event_seq = n->get<std::uint64_t>();
  if (const auto s = j.find("snapshot"); s != j.end() && s->is_string()) {
    h.snapshot = from_base64(s->get_ref<const std::string&>());
    if (!h.snapshot) return trouble = "its snapshot is no base64", std::nullopt;
  }
  h.channels = strings(j, "channels");
  h.outputs = strings(j, "outputs");
  h.links = strings(j, "links");
  return h;
}

}  // namespace

struct InputLogReader::Parts {
  Parts(Source s, const Site& where, std::string n) : source(std::move(s)), site(where), name(std::move(n)) {}

  Source source;
  const Site& site;
  std::string name, buffer;
  std::size_t at = 0;
  std::uint64_t number = 0;
  bool ended = false, cut = false;
  std::optional<InputLogHeader> header;
  std::optional<std::string> error;

  void fail(std::string_view what) {
    if (!error) error = fmt::format("{}:{}: {}", name, number, what);
    ended = true;
  }

  bool fill() {
    buffer.erase(0, at);
    at = 0;
    const std::size_t had = buffer.size();
    buffer.resize(had + (std::size_t{64} << 10));
    const std::size_t n = source(buffer.data() + had, buffer.size() - had);
    buffer.resize(had + n);
    return n > 0;
  }

  std::optional<std::string_view> line(std::size_t longest) {
    for (std::size_t searched = 0;;) {
      const std::size_t hit = buffer.find('\n', at + searched);
      const std::size_t length = (hit == std::string::npos ? buffer.size() : hit) - at;
      if (length > longest) {
        ++number;
        fail("the line is too long; this is no input log, or its line breaks are lost");
        return std::nullopt;
      }
      if (hit != std::string::npos) return give(length, 1);
      searched = length;
      if (fill()) continue;
      if (buffer.size() == at) return std::nullopt;
      cut = true;
      return give(buffer.size() - at, 0);
    }
  }
  std::string_view give(std::size_t length, std::size_t line_break) {
    ++number;
    const std::string_view l = std::string_view{buffer}.substr(at, length);
    at += length + line_break;
    return l;
  }

  std::optional<Json> object(std::size_t longest) {
    const auto text = line(longest);
    if (!text) { ended = true; return std::nullopt; }
    Json j = Json::parse(text->begin(), text->end(), nullptr, false);
    if (j.is_object()) return j;
    fail(cut ? "the last line is cut off; all before it was read. Copy the file again, or delete this line"
             : "no JSON object; every line of an input log is one");
    return std::nullopt;
  }
};

InputLogReader::InputLogReader(Source source, const Site& site, std::string name)
    : parts_(std::make_unique<Parts>(std::move(source), site, std::move(name))) {
  const auto first = parts_->object(kLongestHeader);
  std::string trouble;
  if (first) parts_->header = read_header(*first, trouble);
  else if (!parts_->error) trouble = "empty; the first line must tell riserkeep_inputs and config_sha256";
  if (!trouble.empty()) parts_->fail(trouble);
}
InputLogReader::~InputLogReader() = default;

const std::optional<InputLogHeader>& InputLogReader::header() const { return parts_->header; }
const std::optional<std::string>& InputLogReader::error() const { return parts_->error; }
std::optional<Stamped> InputLogReader::next() {
  Parts& p = *parts_;
  if (p.ended) return std::nullopt;
  const auto j = p.object(kLongestLine);
  if (!j) return std::nullopt;
  const auto seq = j->find("seq"), at = j->find("at");
  if (seq == j->end() || !seq->is_number_unsigned() || at == j->end() || !at->is_number_integer()) {
    p.fail("'seq' and 'at' must be whole numbers");
    return std::nullopt;
  }
  Stamped s{Seq{seq->get<std::uint64_t>()}, EngineTime{Duration{at->get<std::int64_t>()}}, {}};
  std::string trouble;
  JsonReader reader{*j, trouble};
  reader("", s.input);
  if (trouble.empty() && !fits(p.site, s.input)) trouble = "names something that this site file does not have";
  if (trouble.empty()) return s;
  p.fail(trouble);
  return std::nullopt;
}

}  // namespace riserkeep
