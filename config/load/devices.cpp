#include "config/load/devices.h"

#include <fmt/format.h>

#include "config/load/wiring.h"

namespace riserkeep {

int read_unit(Section& s, const std::optional<Field>& f) {
  if (!f) {
    s.field().error("'unit' is missing", "add 'unit: 3', the number set at the device, 1 to 247");
    return 1;
  }
  if (f->node->text == "0") {
    f->error("unit 0 is the broadcast: every device would obey and none would answer",
             "write the number set at the device, 1 to 247");
    return 1;
  }
  return static_cast<int>(read_integer(*f, 1, 247).value_or(1));
}

namespace {

void read_counts(const Field& f, PointForm& form) {
  if (const auto range = read_range(f, Dimension::count, {-2147483648.0, 4294967295.0})) form.counts = *range;
}

void read_invalid(const Field& f, PointForm& form) {
  form.invalid.clear();
  const auto one = [&](const Field& item) {
    if (const auto v = read_integer(item, -2147483648, 4294967295)) form.invalid.push_back(*v);
  };
  if (f.node->kind != Node::Kind::list) {
    one(f);
    return;
  }
  for (const Node& item : f.node->items) one({&item, f.problems, f.path});
}

template <class Enum>
void read_word(Section& s, const char* key, const std::vector<std::string>& words, const std::vector<Enum>& values,
               Enum& into) {
  if (const auto f = s.get(key))
    if (const auto i = read_choice(*f, words)) into = values[*i];
}

}  // namespace

void read_form(Section& s, PointForm& form, bool own) {
  if (const auto f = s.get("signal"))
    if (read_choice(*f, {"4-20 mA"})) form.loop = true;
  if (const auto f = s.get("span")) {
    form.span = *f;
    form.own_span = own;
  }
  if (const auto f = s.get("scale")) {
    form.scale = *f;
    form.own_scale = own;
    if (own && !s.has("signal")) form.loop = false;
  }
  if (const auto f = s.get("offset")) form.offset = *f;
  if (const auto f = s.get("valid")) form.valid = *f;
  if (const auto f = s.get("counts")) read_counts(*f, form);
  if (const auto f = s.get("invalid")) read_invalid(*f, form);
  RegisterTable table = form.table.value_or(RegisterTable::input_register);
  const bool has_table = s.has("table");
  read_word(s, "table", {"coils", "discrete inputs", "input registers", "holding registers"},
            {RegisterTable::coil, RegisterTable::discrete_input, RegisterTable::input_register,
             RegisterTable::holding_register},
            table);
  if (has_table) form.table = table;
  ValueType type = form.type.value_or(ValueType::uint16);
  const bool has_type = s.has("type");
  read_word(
      s, "type", {"bit", "int16", "uint16", "int32", "uint32", "float32"},
      {ValueType::bit, ValueType::int16, ValueType::uint16, ValueType::int32, ValueType::uint32, ValueType::float32},
      type);
  if (has_type) form.type = type;
  read_word(s, "order", {"abcd", "cdab", "badc", "dcba"},
            {WordOrder::abcd, WordOrder::cdab, WordOrder::badc, WordOrder::dcba}, form.order);
  read_word(s, "active", {"closed", "open"}, {false, true}, form.inverted);
  if (const auto f = s.get("poll")) form.poll = read_duration(*f, milliseconds(100), minutes(10));
  if (const auto f = s.get("stale_after")) form.stale_after = read_duration(*f, milliseconds(500), hours(24));
}

std::optional<DeviceTimeOut> read_device_time_out(Section& s) {
  const auto at = s.get("device_time_out_register");
  const auto after = s.get("device_time_out");
  const auto step = s.get("device_time_out_step");
  if (!at && !after) return std::nullopt;
  if (!after || !at) {
    s.field().error(after ? "'device_time_out_register' is missing" : "'device_time_out' is missing",
                    "give both: device_time_out_register: 40101, device_time_out: 20 s");
    return std::nullopt;
  }
  DeviceTimeOut out;
  out.after = read_duration(*after, seconds(1), minutes(10)).value_or(out.after);
  if (const auto text = read_text(*at))
    if (const auto place = parse_register(*at, *text, RegisterTable::holding_register)) {
      if (place->table != RegisterTable::holding_register)
        at->error(fmt::format("'{}' is not a holding register, which alone can be written", *text),
                  "write it like 40101 or @100");
      out.register_address = place->address;
    }
  if (step)
    if (const auto d = read_duration(*step, milliseconds(1), minutes(1))) out.counts_per_second = 1.0 / in_seconds(*d);
  return out;
}

void read_devices(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like analog: {link: riser_bus, unit: 3}");
    return;
  }
  for (const Entry& e : f->node->entries) {
    const Field df = f->of(e);
    Section s(df, "{link: riser_bus, unit: 3}");
    DeviceEntry device;
    device.key = e.key;
    if (const auto link = s.need("link", "link: riser_bus"))
      if (const auto i = read_choice(*link, b.link_keys)) {
        device.link = id_at<LinkId>(*i);
        if (b.d.site.links[*i].is_broker) link->error("a broker carries topics, not devices", "name a Modbus link");
      }
    device.unit = read_unit(s, s.get("unit"));
    device.time_out = read_device_time_out(s);
    read_form(s, device.form, false);
    for (const DeviceEntry& other : b.devices)
      if (other.key == device.key)
        df.error(fmt::format("a link with a unit is already the device '{}'", e.key), "give one of them another name");
    b.devices.push_back(std::move(device));
  }
}

}  // namespace riserkeep
