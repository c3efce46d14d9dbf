#include "drivers/mqtt/source.h"

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string_view>

#include "drivers/decode.h"
#include "drivers/wall_time.h"

namespace riserkeep {
namespace {

using Json = nlohmann::json;
constexpr std::size_t kLargestPayload = 64 * 1024;

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlank = " \t\r\n";
  const auto from = text.find_first_not_of(kBlank);
  if (from == std::string_view::npos) return {};
  return text.substr(from, text.find_last_not_of(kBlank) - from + 1);
}

Raw number(double v) {
  Raw raw{v, std::nullopt};
  if (v == std::floor(v) && std::abs(v) < 9e15) raw.code = static_cast<std::int64_t>(v);
  return raw;
}

Raw from_text(std::string_view text) {
  text = trimmed(text);
  if (text == "true" || text == "on" || text == "ON") return number(1);
  if (text == "false" || text == "off" || text == "OFF") return number(0);
  double v = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), v);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(v)) return {};
  return number(v);
}

Raw from_json(const Json& v) {
  if (v.is_boolean()) return number(v.get<bool>() ? 1 : 0);
  if (v.is_number()) return number(v.get<double>());
  if (v.is_string()) return from_text(v.get_ref<const std::string&>());
  return {};
}

// No exceptions for the common wrongs: a path that is not there, a payload that is not JSON.
const Json* at(const Json& document, const std::string& pointer) {
  try {
    const Json::json_pointer p(pointer);
    return document.contains(p) ? &document.at(p) : nullptr;
  } catch (const Json::exception&) {
    return nullptr;
  }
}

std::optional<WallTime> time_of(const Json& v) {
  if (v.is_string()) return parse_rfc3339(v.get_ref<const std::string&>());
  if (!v.is_number()) return std::nullopt;
  const double s = v.get<double>();
  if (!std::isfinite(s) || std::abs(s) > 1e12) return std::nullopt;
  return WallTime{std::llround(s * 1000.0)};
}

Decoded decode(const Raw& raw, const TopicPoint& point, Signal signal) {
  if (!raw.value) return {};
  if (info_of(signal).contact) return decode_bit(*raw.value != 0.0, point.conversion, signal);
  return convert(raw, point.conversion, signal);
}

std::optional<EngineTime> measured(const Json& document, const TopicPoint& point, const Arrived& message,
                                   const ToEngineTime& to_engine) {
  if (point.time_pointer.empty() || !to_engine) return std::nullopt;
  const Json* v = at(document, point.time_pointer);
  const auto wall = v ? time_of(*v) : std::nullopt;
  const auto when = wall ? to_engine(*wall) : std::nullopt;
  if (!when || *when > message.at + seconds(5)) return std::nullopt;
  return std::min(*when, message.at);
}

}  // namespace

Reading read_payload(const TopicPoint& point, Signal signal, const Arrived& message, const ToEngineTime& to_engine) {
  Reading reading{point.channel, message.at, std::nullopt, Quality::bad, Why::no_value};
  if (message.payload.size() > kLargestPayload) return reading;
  Raw raw;
  std::optional<EngineTime> own_time;
  if (point.value_pointer.empty() && point.time_pointer.empty()) {
    raw = from_text(message.payload);
  } else {
    const Json document = Json::parse(message.payload, nullptr, false);
    if (document.is_discarded()) return reading;
    if (const Json* v = at(document, point.value_pointer)) raw = from_json(*v);
    own_time = measured(document, point, message, to_engine);
  }
  const Decoded value = decode(raw, point, signal);
  reading.ticks = value.ticks;
  reading.quality = value.quality;
  reading.why = value.why;
  if (own_time) reading.measured = *own_time;
  if (message.retained && !own_time && value.ticks) {
    reading.quality = Quality::bad;
    reading.why = Why::retained;
  }
  return reading;
}

}  // namespace riserkeep
