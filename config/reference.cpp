#include "config/reference.h"

#include <fmt/format.h>

#include "config/load/params.h"
#include "config/load/people.h"
#include "config/load/upkeep.h"
#include "config/load/venting.h"
#include "rules/text.h"

namespace riserkeep {

namespace {

std::string quoted(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + "\"";
}

std::string_view definition(Dimension d) {
  switch (d) {
    case Dimension::pressure:
      return "pressure";
    case Dimension::pressure_rate:
      return "pressure_rate";
    case Dimension::duration:
      return "duration";
    case Dimension::temperature:
    case Dimension::temperature_step:
      return "temperature";
    case Dimension::oxygen:
    case Dimension::share:
      return "percent";
    case Dimension::count:
      return "number";
    case Dimension::volume:
      return "volume";
    case Dimension::length:
      return "length";
    case Dimension::flow:
      return "flow";
  }
  return "text";
}

std::string property(std::string_view key, Dimension d, std::string_view help, double fallback, double low,
                     double high) {
  return fmt::format("{}: {{\"$ref\": \"#/$defs/{}\", \"description\": {}}}", quoted(key), definition(d),
                     quoted(fmt::format("{}; {} unless said, {} to {}", help, written(d, fallback), written(d, low),
                                        written(d, high))));
}

std::string object(const std::string& properties, std::string_view indent) {
  return fmt::format("{{\"type\": \"object\", \"additionalProperties\": false, \"properties\": {{\n{}\n{}}}}}",
                     properties, indent.substr(0, indent.size() - 2));
}

std::string venting_properties() {
  std::string out;
  for (const VentingKey& k : venting_keys())
    out += fmt::format("{}        {}", out.empty() ? "" : ",\n",
                       property(k.key, k.dimension, k.help, k.get(VentingParams{}), k.low, k.high));
  return object(out, "        ");
}

std::string message_properties() {
  std::string out;
  for (const MessageKey& k : message_keys())
    out += fmt::format("        {},\n", property(k.key, k.dimension, k.help, k.get(MessageParams{}), k.low, k.high));
  out += R"(        "all_well": {"$ref": "#/$defs/day_time", "description": "a short 'all well' at this time; none unless said"},)";
  out += "\n";
  out += R"(        "start_and_stop": {"enum": [true, false, "yes", "no"], "description": "a note when the box starts and when it is stopped in order; yes unless said"})";
  return object(out, "        ");
}

std::string chore_enum() {
  std::string out;
  for (int k = 0; k <= static_cast<int>(ChoreKind::low_point_drains); ++k)
    out += fmt::format("{}{}", out.empty() ? "" : ", ", quoted(chore_words(static_cast<ChoreKind>(k))));
  return out;
}

std::string text_properties() {
  std::string out;
  for (std::size_t i = 0; i < kClassCount; ++i)
    out += fmt::format("{}{}: {{\"type\": \"string\", \"maxLength\": 400}}", out.empty() ? "" : ", ",
                       quoted(word(static_cast<ClassId>(i))));
  return out;
}

std::string rule_properties() {
  std::string out;
  for (const std::string& rule : rule_names()) {
    std::string keys;
    for (const RuleKey& k : rule_keys())
      if (k.rule == rule)
        keys += fmt::format("{}          {}", keys.empty() ? "" : ",\n",
                            property(k.key, k.dimension, k.help, k.fallback, k.low, k.high));
    out += fmt::format("{}        {}: {}", out.empty() ? "" : ",\n", quoted(rule), object(keys, "          "));
  }
  return object(out, "        ");
}

// Everything but the tunables. @VENTING@ and @RULES@ are replaced.
constexpr std::string_view kSchema = R"json({
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "title": "riserkeep site file, format 1",
  "type": "object",
  "required": ["format", "systems"],
  "additionalProperties": false,
  "properties": {
    "format": {"const": 1},
    "site": {"type": "object", "additionalProperties": false, "required": ["name", "id", "time_zone"], "properties": {
      "name": {"type": "string"}, "id": {"type": "string", "pattern": "^[^/+# \t\"'<>&]+$"},
      "time_zone": {"type": "string", "description": "IANA name, as America/Chicago"},
      "elevation": {"$ref": "#/$defs/length", "description": "above sea level; gives the atmosphere"}}},
    "room": {"$ref": "#/$defs/room"},
    "rooms": {"type": "object", "additionalProperties": {"$ref": "#/$defs/room"}},
    "links": {"type": "object", "additionalProperties": {"$ref": "#/$defs/link"}},
    "devices": {"type": "object", "additionalProperties": {"$ref": "#/$defs/device"}},
    "room_oxygen": {"$ref": "#/$defs/place"},
    "analysers": {"type": "object", "additionalProperties": {"$ref": "#/$defs/analyser"}},
    "supply": {"$ref": "#/$defs/supply"},
    "supplies": {"type": "object", "additionalProperties": {"$ref": "#/$defs/supply"}},
    "systems": {"type": "object", "minProperties": 1, "additionalProperties": {"$ref": "#/$defs/system"}},
    "people": {"type": "object", "additionalProperties": {"$ref": "#/$defs/person"}},
    "mail": {"type": "object", "additionalProperties": false, "required": ["server", "from"], "properties": {
      "server": {"type": "string", "pattern": "^smtps?://[^@/]+$", "description": "smtp://host:587 (STARTTLS) or smtps://host"},
      "from": {"type": "string"}, "user": {"type": "string"}, "password_file": {"type": "string"}, "ca_file": {"type": "string"},
      "tls": {"enum": ["required", "none"]}, "time_out": {"$ref": "#/$defs/duration"}}},
    "hook": {"type": "object", "additionalProperties": false, "required": ["secret_file"], "properties": {
      "secret_file": {"type": "string"}, "ca_file": {"type": "string"}}},
    "heartbeat": {"type": "object", "additionalProperties": false, "required": ["url"], "properties": {
      "url": {"type": "string", "pattern": "^https://"}, "every": {"$ref": "#/$defs/duration"}, "ca_file": {"type": "string"}}},
    "delivery": {"type": "object", "additionalProperties": false, "properties": {
      "reached_at": {"type": "string", "pattern": "^https://"}, "give_up": {"$ref": "#/$defs/duration"}, "next_way_after": {"type": "integer", "minimum": 1, "maximum": 100}}},
    "messages": {"$ref": "#/$defs/messages"},
    "holidays": {"type": "array", "items": {"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}},
    "texts": {"type": "object", "additionalProperties": false, "properties": {@TEXTS@}},
    "maintenance": {"type": "object", "additionalProperties": {"$ref": "#/$defs/maintenance"}},
    "chores": {"oneOf": [{"const": "none"}, {"type": "object", "additionalProperties": {"$ref": "#/$defs/chore"}}]},
    "box": {"type": "object", "additionalProperties": false, "properties": {
      "well_output": {"type": "string", "description": "a relay that is on while the box is well: relays 9"}}},
    "venting": {"$ref": "#/$defs/venting"},
    "rules": {"$ref": "#/$defs/rules"}
  },
  "$defs": {
    "text": {"type": "string"},
    "number": {"type": "number"},
    "pressure": {"type": "string", "pattern": "^(unknown|-?[0-9.]+(e-?[0-9]+)? *(psig?|bar|kPa|mbar))$"},
    "pressure_rate": {"type": "string", "pattern": "^-?[0-9.]+ *(psig?|bar|kPa|mbar) */ *[0-9.]* *(ms|s|min|h|d)$"},
    "duration": {"type": "string", "pattern": "^[0-9.]+ *(ms|s|min|h|d)$"},
    "temperature": {"type": "string", "pattern": "^-?[0-9.]+ *°?(F|C|K)$"},
    "percent": {"type": "string", "pattern": "^[0-9.]+ *(%|% O2|ppm)$"},
    "volume": {"type": "string", "pattern": "^(unknown|[0-9.]+ *(gal|L|m3|ft3))$"},
    "length": {"type": "string", "pattern": "^-?[0-9.]+ *(mm|in|m|ft)$"},
    "flow": {"type": "string", "pattern": "^(unknown|[0-9.]+ *(scfm|scfh|L/min|L/min \\(std\\)|Nm3/h))$"},
    "range": {"type": "string", "pattern": "^.+ to .+$"},
    "unit": {"type": ["integer", "string"], "description": "Modbus unit 1 to 247 on a bus; the measuring unit of a topic"},
    "register": {"type": ["integer", "string"], "pattern": "^(@[0-9]{1,5}|[0-9]{5,6})$", "description": "number printed on the sheet, or @ and the address counted from 0"},
    "place": {"oneOf": [
      {"type": "string", "pattern": "^.+ (@?[0-9]+)$", "description": "device and number: analog 30001, relays 1, analog @0"},
      {"type": "object", "additionalProperties": false, "properties": {
        "at": {"type": "string"}, "link": {"type": "string"}, "unit": {"$ref": "#/$defs/unit"}, "register": {"$ref": "#/$defs/register"},
        "topic": {"type": "string"}, "value": {"type": "string", "description": "JSON pointer, RFC 6901"}, "time": {"type": "string", "description": "JSON pointer, RFC 6901"},
        @FORM@}}]},
    "room": {"type": "object", "additionalProperties": false, "required": ["name", "vents_go"], "properties": {
      "name": {"type": "string"}, "volume": {"$ref": "#/$defs/volume"}, "vents_go": {"enum": ["outdoors", "into room"]},
      "oxygen": {"$ref": "#/$defs/place"}, "temperature": {"$ref": "#/$defs/place"}, "barometer": {"$ref": "#/$defs/place"},
      "vent_lockout": {"$ref": "#/$defs/place"}, "auxiliary": {"$ref": "#/$defs/auxiliary"}}},
    "link": {"type": "object", "additionalProperties": false, "properties": {
      "modbus_tcp": {"type": "string"}, "modbus_rtu": {"type": "string"}, "mqtt": {"type": "string"},
      "baud": {"enum": [1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200]}, "framing": {"enum": ["8E1", "8O1", "8N1", "8N2", "8E2", "8O2"]},
      "user": {"type": "string"}, "password_file": {"type": "string"}, "ca_file": {"type": "string"},
      "time_out": {"$ref": "#/$defs/duration"}, "min_gap": {"$ref": "#/$defs/duration"}, "connect_delay": {"$ref": "#/$defs/duration"},
      "unit": {"$ref": "#/$defs/unit"}, @TIMEOUT@,
      @FORM@}},
    "device": {"type": "object", "additionalProperties": false, "required": ["link", "unit"], "properties": {
      "link": {"type": "string"}, "unit": {"$ref": "#/$defs/unit"}, @TIMEOUT@,
      @FORM@}},
    "analyser": {"type": "object", "additionalProperties": false, "properties": {
      "name": {"type": "string"}, "cell": {"enum": ["galvanic", "zirconia", "optical"]}, "flush": {"$ref": "#/$defs/duration"},
      "line_delay": {"$ref": "#/$defs/duration"}, "t90": {"$ref": "#/$defs/duration"}, "tube": {"$ref": "#/$defs/length"},
      "ports": {"type": "object", "additionalProperties": {"type": "string"}},
      "at": {"type": "string"}, "link": {"type": "string"}, "unit": {"$ref": "#/$defs/unit"}, "register": {"$ref": "#/$defs/register"},
      "topic": {"type": "string"}, "value": {"type": "string"}, "time": {"type": "string"},
      @FORM@}},
    "supply": {"type": "object", "additionalProperties": false, "required": ["name", "purity"], "properties": {
      "name": {"type": "string"}, "room": {"type": "string"}, "source": {"enum": ["generator", "cylinders", "compressor"]},
      "flow": {"$ref": "#/$defs/flow"}, "purity": {"$ref": "#/$defs/percent"}, "refill_limit": {"$ref": "#/$defs/duration"},
      "pressure": {"$ref": "#/$defs/place"}, "air_bypass": {"$ref": "#/$defs/place"}, "running": {"$ref": "#/$defs/place"},
      "flow_meter": {"$ref": "#/$defs/place"}, "oxygen_meter": {"$ref": "#/$defs/place"}, "auxiliary": {"$ref": "#/$defs/auxiliary"}}},
    "system": {"type": "object", "additionalProperties": false, "required": ["kind", "valve", "air"], "properties": {
      "kind": {"enum": ["dry pipe", "preaction single", "preaction non", "preaction double"]},
      "supply": {"type": "string"}, "room": {"type": "string"},
      "valve": {"type": "object", "additionalProperties": false, "required": ["low_air_switch"], "properties": {
        "type": {"enum": ["differential", "latched", "low differential"]}, "ratio": {"type": "number"},
        "highest_water": {"$ref": "#/$defs/pressure"}, "trips_at": {"$ref": "#/$defs/pressure"},
        "low_air_switch": {"$ref": "#/$defs/pressure"}, "quick_opening": {"type": "boolean"}}},
      "air": {"type": "object", "additionalProperties": false, "properties": {
        "at": {"$ref": "#/$defs/place"}, "cut_in": {"$ref": "#/$defs/pressure"}, "cut_out": {"$ref": "#/$defs/pressure"}, "regulated": {"$ref": "#/$defs/pressure"}}},
      "band": {"$ref": "#/$defs/range"}, "volume": {"$ref": "#/$defs/volume"}, "cold_store": {"type": "boolean"},
      "temperature": {"$ref": "#/$defs/place"}, "water_pressure": {"$ref": "#/$defs/place"},
      "contacts": {"type": "object", "additionalProperties": false, "properties": {
        "low_air": {"$ref": "#/$defs/place"}, "waterflow": {"$ref": "#/$defs/place"}, "fire": {"$ref": "#/$defs/place"}}},
      "vent": {"type": "object", "additionalProperties": false, "required": ["bore", "taps"], "properties": {
        "relay": {"type": "string"}, "bore": {"$ref": "#/$defs/length"}, "taps": {"enum": ["riser", "far end"]}, "discharge": {"type": "number"},
        "valve_travel": {"$ref": "#/$defs/duration"}, "tube": {"$ref": "#/$defs/length"}, "short_reaction": {"type": "string"}}},
      "purity": {"type": "object", "additionalProperties": false, "properties": {"target": {"$ref": "#/$defs/percent"}, "analyser": {"type": "string"}}},
      "purge": {"type": "object", "additionalProperties": false, "properties": {"started": {"type": "string"}, "due": {"type": "string"}}},
      "rules": {"$ref": "#/$defs/rules"}, "auxiliary": {"$ref": "#/$defs/auxiliary"}}},
    "auxiliary": {"type": "object", "additionalProperties": {"$ref": "#/$defs/place"}},
    "some_texts": {"oneOf": [{"type": "string"}, {"type": "array", "minItems": 1, "items": {"type": "string"}}]},
    "day_time": {"type": "string", "pattern": "^[A-Za-z, ]+ [0-2][0-9]:[0-5][0-9]$", "description": "weekdays 07:00, daily 07:00, sunday 02:30, mon, thu 02:30"},
    "person": {"type": "object", "additionalProperties": false, "required": ["for"], "properties": {
      "mail": {"$ref": "#/$defs/some_texts"}, "sms_by_mail": {"$ref": "#/$defs/some_texts"},
      "hook": {"$ref": "#/$defs/some_texts", "description": "https address; ways are tried in the order they are written"},
      "for": {"enum": ["all", "call now"]}, "places": {"$ref": "#/$defs/some_texts"},
      "after": {"$ref": "#/$defs/duration", "description": "told once an alarm stands unacknowledged for so long; at once unless said"},
      "at": {"$ref": "#/$defs/day_time", "description": "when what can wait is told; at once unless said"},
      "quiet": {"type": "string", "pattern": "^[0-2][0-9]:[0-5][0-9] to [0-2][0-9]:[0-5][0-9]$", "description": "only critical ones break these hours"}}},
    "maintenance": {"type": "object", "additionalProperties": false, "required": ["who", "from", "for"], "properties": {
      "systems": {"$ref": "#/$defs/some_texts"}, "what": {"type": "string"}, "who": {"type": "string"},
      "from": {"$ref": "#/$defs/day_time"}, "for": {"$ref": "#/$defs/duration"}}},
    "chore": {"type": "object", "additionalProperties": false, "required": ["do"], "properties": {
      "do": {"enum": [@CHORES@]}, "every": {"oneOf": [{"const": "never"}, {"$ref": "#/$defs/duration"}]},
      "before": {"type": "string", "pattern": "^[01][0-9]-[0-3][0-9]$"}, "at": {"$ref": "#/$defs/some_texts"}}},
    "messages": @MESSAGES@,
    "venting": @VENTING@,
    "rules": @RULES@
  }
}
)json";

constexpr std::string_view kForm =
    R"json("signal": {"enum": ["4-20 mA"]}, "span": {"$ref": "#/$defs/range"}, "counts": {"$ref": "#/$defs/range"}, "scale": {"type": "string"}, "offset": {"type": "string"},
        "valid": {"$ref": "#/$defs/range"}, "invalid": {"type": ["integer", "array"], "items": {"type": "integer"}},
        "table": {"enum": ["coils", "discrete inputs", "input registers", "holding registers"]}, "type": {"enum": ["bit", "int16", "uint16", "int32", "uint32", "float32"]},
        "order": {"enum": ["abcd", "cdab", "badc", "dcba"]}, "active": {"enum": ["closed", "open"]},
        "poll": {"$ref": "#/$defs/duration"}, "stale_after": {"$ref": "#/$defs/duration"})json";

constexpr std::string_view kTimeOut =
    R"json("device_time_out_register": {"$ref": "#/$defs/register"}, "device_time_out": {"$ref": "#/$defs/duration"}, "device_time_out_step": {"$ref": "#/$defs/duration"})json";

void replace_all(std::string& text, std::string_view mark, std::string_view by) {
  for (auto at = text.find(mark); at != std::string::npos; at = text.find(mark, at + by.size()))
    text.replace(at, mark.size(), by);
}

}  // namespace

std::string site_schema() {
  std::string out(kSchema);
  replace_all(out, "@FORM@", kForm);
  replace_all(out, "@TIMEOUT@", kTimeOut);
  replace_all(out, "@VENTING@", venting_properties());
  replace_all(out, "@MESSAGES@", message_properties());
  replace_all(out, "@CHORES@", chore_enum());
  replace_all(out, "@TEXTS@", text_properties());
  replace_all(out, "@RULES@", rule_properties());
  return out;
}

std::string venting_reference() {
  std::string out;
  for (const VentingKey& k : venting_keys())
    out += fmt::format("| `{}` | {} | {} to {} | {} |\n", k.key, written(k.dimension, k.get(VentingParams{})),
                       written(k.dimension, k.low), written(k.dimension, k.high), k.help);
  return out;
}

std::string messages_reference() {
  std::string out;
  for (const MessageKey& k : message_keys())
    out += fmt::format("| `{}` | {} | {} to {} | {} |\n", k.key, written(k.dimension, k.get(MessageParams{})),
                       written(k.dimension, k.low), written(k.dimension, k.high), k.help);
  return out + "| `all_well` | none | a time, as `daily 08:00` | a short \"all well\", sent only when it is |\n"
               "| `start_and_stop` | yes | yes, no | a note when the box starts and when it is stopped in order |\n";
}

std::string rules_reference() {
  std::string out;
  for (const RuleKey& k : rule_keys())
    out += fmt::format("| `{}` | `{}` | {} | {} to {} | {} |\n", k.rule, k.key, written(k.dimension, k.fallback),
                       written(k.dimension, k.low), written(k.dimension, k.high), k.help);
  return out;
}

}  // namespace riserkeep
