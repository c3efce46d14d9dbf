#include "daemon/formats/input_log.h"

#include <fmt/format.h>

#include <cmath>

#include "daemon/formats/event_json.h"
#include "daemon/formats/input_fields.h"

namespace riserkeep {
namespace {

class JsonWriter {
 public:
  explicit JsonWriter(std::string& to) : to_(to) {}

  template <class T> void operator()(std::string_view key, T& v) {
    if (!first_) to_ += ',';
    first_ = false;
    if constexpr (requires { names_of(&v); }) alternative(v);
    else { to_ += fmt::format("\"{}\":", key); value(v); }
  }
  // The name of the alternative is the key: "set_mode":{...}
  template <class V> void alternative(V& v) {
    to_ += fmt::format("\"{}\":", names_of(&v)[v.index()]);
    std::visit([this](auto& x) { object(x); }, v);
  }

 private:
  template <class T> void object(T& x) {
    to_ += '{';
    JsonWriter inner{to_};
    describe(inner, x);
    to_ += '}';
  }
  void value(bool v) { to_ += v ? "true" : "false"; }
  void value(std::uint16_t v) { to_ += fmt::format("{}", v); }
  void value(std::int64_t v) { to_ += fmt::format("{}", v); }
  void value(std::int32_t v) { to_ += fmt::format("{}", v); }
  void value(double v) { to_ += std::isfinite(v) ? fmt::format("{}", v) : "null"; }
  void value(OxygenFraction v) { value(v.fraction()); }
  void value(const std::string& v) { to_ += json_string(v); }
  void value(EngineTime v) { to_ += fmt::format("{}", v.time_since_epoch().count()); }
  void value(OrderNo v) { to_ += fmt::format("{}", static_cast<std::uint64_t>(v)); }
  template <class T> void value(Id<T> v) { value(v.index); }
  template <class E> requires std::is_enum_v<E>
  void value(E v) { to_ += json_string(EnumWords<E>::words[static_cast<std::size_t>(v)]); }
  template <class T> void value(std::optional<T>& v) { if (v) value(*v); else to_ += "null"; }
  void value(PlaceId& v) { object(v); }

  std::string& to_;
  bool first_ = true;
};

std::string list_json(const std::vector<std::string>& list) {
  std::string out;
  for (const auto& s : list) out += (out.empty() ? "" : ",") + json_string(s);
  return "[" + out + "]";
}

}  // namespace

InputLogHeader input_log_header(const Site& site, std::string config_sha256, std::optional<std::string> snapshot,
                                std::uint64_t first_event_seq) {
  InputLogHeader h{1, site.id, std::move(config_sha256), std::move(snapshot), first_event_seq, {}, {}, {}};
  for (const auto& c : site.channels) h.channels.push_back(fmt::format("{}/{}", place_id(site, c.place), signal_word(c)));
  for (const auto& o : site.outputs) h.outputs.push_back(o.id);
  for (const auto& l : site.links) h.links.push_back(l.id);
  return h;
}

std::string input_log_line(const InputLogHeader& h) {
  return fmt::format(R"({{"riserkeep_inputs":{},"site":{},"config_sha256":{},"first_event_seq":{},"channels":{},"outputs":{},"links":{},"snapshot":{}}})",
                     h.version, json_string(h.site), json_string(h.config_sha256), h.first_event_seq,
                     list_json(h.channels), list_json(h.outputs), list_json(h.links),
                     h.snapshot ? "\"" + base64(*h.snapshot) + "\"" : "null");
}

std::string input_log_line(const Stamped& s) {
  std::string out = fmt::format(R"({{"seq":{},"at":{},)", static_cast<std::uint64_t>(s.seq), s.at.time_since_epoch().count());
  Input copy = s.input;
  JsonWriter writer{out};
  writer("", copy);
  return out += '}';
}

bool looks_like_input_log(std::string_view first) { return first.starts_with("{\"riserkeep_inputs\""); }

}  // namespace riserkeep
