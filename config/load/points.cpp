#include <algorithm>
#include <charconv>

#include <fmt/format.h>

#include "config/load/conversion.h"
#include "config/load/devices.h"
#include "config/load/wiring.h"

namespace riserkeep {

namespace {

RegisterTable default_table(Signal s) {
  return info_of(s).contact ? RegisterTable::discrete_input : RegisterTable::input_register;
}

Duration default_poll(const PointRole& role) {
  const bool quick =
      info_of(role.signal).contact || role.signal == Signal::pressure || role.signal == Signal::water_pressure;
  return quick ? seconds(2) : seconds(10);
}

std::vector<std::string> device_keys(const Build& b) {
  std::vector<std::string> out;
  for (const DeviceEntry& d : b.devices) out.push_back(d.key);
  return out;
}

struct DevicePlace {
  const DeviceEntry* device;
  RegisterPlace place;
  std::string printed;
};

// "analog 30001", "relays 1", "analog @0"
std::optional<DevicePlace> find_device_place(Build& b, const Field& f, std::optional<RegisterTable> fallback) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  const auto space = text->rfind(' ');
  const std::string key = text->substr(0, space == std::string::npos ? text->size() : space);
  if (space == std::string::npos) {
    f.error(
        fmt::format("'{}' is not a place", *text),
        "write the device and the number printed on its sheet, like 'analog 30001', or its address, like 'analog @0'");
    return std::nullopt;
  }
  const auto found =
      std::find_if(b.devices.begin(), b.devices.end(), [&](const DeviceEntry& d) { return d.key == key; });
  if (found == b.devices.end()) {
    if (b.wires_optional() && !b.has_links) return std::nullopt;
    f.error(fmt::format("there is no device '{}'", key),
            b.devices.empty() ? "describe it under devices:" : suggest(key, device_keys(b)));
    return std::nullopt;
  }
  const auto place =
      parse_register(f, std::string_view(*text).substr(space + 1), found->form.table ? found->form.table : fallback);
  if (!place) return std::nullopt;
  return DevicePlace{&*found, *place, *text};
}

void set_times(Channel& c, const Field& f, const PointForm& form, const PointRole& role) {
  c.poll = form.poll.value_or(default_poll(role));
  c.stale_after = form.stale_after.value_or(std::max<Duration>(seconds(60), 3 * c.poll));
  if (c.stale_after < 2 * c.poll)
    f.error("stale_after is shorter than two polls: every reading would be stale now and then",
            "raise stale_after or lower poll");
}

void wire_register(Build& b, Channel& c, ChannelId id, const Field& f, const DeviceEntry& device,
                   const RegisterPlace& place, std::string printed, const PointForm& form) {
  RegisterPoint p;
  p.channel = id;
  p.link = device.link;
  p.unit = device.unit;
  p.table = place.table;
  p.address = place.address;
  p.printed = std::move(printed);
  p.order = form.order;
  const bool bits = place.table == RegisterTable::coil || place.table == RegisterTable::discrete_input;
  p.type = bits ? ValueType::bit
                : form.type.value_or(form.counts && form.counts->first < 0 ? ValueType::int16 : ValueType::uint16);
  const bool contact = info_of(c.signal).contact;
  if (contact && !bits && !form.type) p.type = ValueType::uint16;
  if (!contact && bits && c.signal != Signal::auxiliary) {
    f.error(fmt::format("{} is a contact, but a measured value is expected", p.printed),
            "name an input or holding register, like 30001 or 40001");
    return;
  }
  const auto conversion = make_conversion(f, form, c, true, bits);
  if (!conversion) return;
  p.conversion = *conversion;
  c.link = device.link;
  b.d.wiring.registers.push_back(std::move(p));
}

void wire_topic(Build& b, Channel& c, ChannelId id, Section& s, const Field& topic, const PointForm& form) {
  TopicPoint p;
  p.channel = id;
  if (const auto t = read_text(topic)) {
    p.topic = *t;
    if (t->find_first_of("+#") != std::string::npos)
      topic.error("a wildcard would mix several sources into one value", "write the whole topic");
  }
  const auto pointer = [&s](const char* key, std::string& into) {
    if (const auto k = s.get(key))
      if (const auto t = read_text(*k)) {
        into = *t;
        if ((*t)[0] != '/')
          k->error(fmt::format("'{}' is not a JSON pointer", *t), "write it like /oxygen/value (RFC 6901)");
      }
  };
  pointer("value", p.value_pointer);
  pointer("time", p.time_pointer);
  PointForm full = form;
  if (const auto unit = s.get("unit")) full.scale = *unit;
  const auto link = s.need("link", "link: broker");
  const auto i = link ? read_choice(*link, b.link_keys) : std::nullopt;
  if (i && !b.d.site.links[*i].is_broker) link->error("a topic needs a broker", "name a link with mqtt:");
  const auto conversion = make_conversion(s.field(), full, c, false, info_of(c.signal).contact);
  if (!conversion || !i) return;
  p.conversion = *conversion;
  p.link = id_at<LinkId>(*i);
  c.link = p.link;
  b.d.wiring.topics.push_back(std::move(p));
}

// link + unit + register, without a device of its own.
void wire_direct(Build& b, Channel& c, ChannelId id, Section& s, const Field& reg, const PointForm& form) {
  const auto link = s.need("link", "link: riser_bus");
  DeviceEntry device;
  device.unit = read_unit(s, s.get("unit"));
  const auto text = read_text(reg);
  const auto place =
      text ? parse_register(reg, *text, form.table ? form.table : default_table(c.signal)) : std::nullopt;
  if (link && b.wires_optional() && !b.has_links) return;
  const auto i = link ? read_choice(*link, b.link_keys) : std::nullopt;
  if (!i || !place) return;
  if (b.d.site.links[*i].is_broker) {
    link->error("a register needs a Modbus link", "name one, or give a topic");
    return;
  }
  device.link = id_at<LinkId>(*i);
  wire_register(b, c, id, reg, device, *place, fmt::format("{} unit {} {}", b.link_keys[*i], device.unit, *text), form);
}

ChannelId push(Build& b, const Field* f, Channel c) {
  b.d.site.channels.push_back(std::move(c));
  b.channel_marks.push_back(f ? f->node->mark : Mark{});
  b.channel_paths.push_back(f ? f->path : std::string{});
  return id_at<ChannelId>(b.d.site.channels.size() - 1);
}

Channel plain_channel(const PointRole& role) {
  Channel c;
  c.place = role.place;
  c.signal = role.signal;
  c.auxiliary_id = role.auxiliary_id;
  c.poll = default_poll(role);
  return c;
}

}  // namespace

ChannelId add_channel(Build& b, const PointRole& role, Section& s) {
  const ChannelId id = push(b, &s.field(), plain_channel(role));
  Channel& c = b.d.site.channels[id.index];
  PointForm form;
  const auto at = s.get("at");
  const auto topic = s.get("topic");
  const auto reg = s.get("register");
  std::optional<DevicePlace> place;
  if (at) {
    place = find_device_place(b, *at, default_table(role.signal));
    if (place) form = place->device->form;
  }
  read_form(s, form, true);
  set_times(c, s.field(), form, role);
  if ((at ? 1 : 0) + (topic ? 1 : 0) + (reg ? 1 : 0) > 1) {
    s.field().error("at, topic and register exclude each other", "keep one");
    return id;
  }
  if (place) {
    if (const auto unit = s.get("unit")) form.scale = *unit;
    wire_register(b, c, id, *at, *place->device, place->place, place->printed, form);
  }
  if (topic) wire_topic(b, c, id, s, *topic, form);
  if (reg) wire_direct(b, c, id, s, *reg, form);
  if (!at && !topic && !reg && s.has("link"))
    s.field().error("what to read is missing", "add topic: for a broker, register: for a bus");
  return id;
}

ChannelId add_channel(Build& b, const PointRole& role, const std::optional<Field>& at) {
  if (!at) return push(b, nullptr, plain_channel(role));
  if (at->is_map()) {
    Section s(*at);
    return add_channel(b, role, s);
  }
  const ChannelId id = push(b, &*at, plain_channel(role));
  Channel& c = b.d.site.channels[id.index];
  if (const auto place = find_device_place(b, *at, default_table(role.signal))) {
    set_times(c, *at, place->device->form, role);
    wire_register(b, c, id, *at, *place->device, place->place, place->printed, place->device->form);
  }
  return id;
}

std::optional<ChannelId> add_optional_channel(Build& b, const PointRole& role, Section& map, std::string_view key) {
  const auto f = map.get(key);
  if (!f) return std::nullopt;
  return add_channel(b, role, f);
}

OutputId add_output(Build& b, const OutputRole& role, const std::optional<Field>& at) {
  const OutputId id = id_at<OutputId>(b.d.site.outputs.size());
  Output o;
  o.id = role.id;
  o.kind = role.kind;
  o.place = role.place;
  o.analyser = role.analyser;
  const auto place = at ? find_device_place(b, *at, RegisterTable::coil) : std::nullopt;
  if (place && place->place.table != RegisterTable::coil)
    at->error(fmt::format("'{}' is not a coil", place->printed), "write the relay's number, like 'relays 1', or '@0'");
  else if (place) {
    o.link = place->device->link;
    o.reply_time_out = b.d.wiring.links[o.link->index].time_out;
    if (place->device->time_out) o.device_time_out = place->device->time_out->after;
    b.d.wiring.coils.push_back(
        {id, place->device->link, place->device->unit, place->place.address, place->printed, place->device->time_out});
  } else {
    b.d.wiring.unwired.push_back(id);
  }
  b.d.site.outputs.push_back(std::move(o));
  b.output_marks.push_back(at ? at->node->mark : Mark{});
  b.output_paths.push_back(at ? at->path : std::string{});
  return id;
}

std::optional<RegisterPlace> parse_register(const Field& f, std::string_view text,
                                            std::optional<RegisterTable> fallback) {
  const bool at_address = !text.empty() && text[0] == '@';
  const std::string_view digits = at_address ? text.substr(1) : text;
  int v = 0;
  const auto [end, code] = std::from_chars(digits.data(), digits.data() + digits.size(), v);
  const auto wrong = [&](std::string_view why) {
    f.error(fmt::format("'{}' {}", text, why),
            "write the number printed on the sheet (10001, 30001, 40001; six digits too) or the 0-based address as @0");
    return std::nullopt;
  };
  if (digits.empty() || digits.size() > 6 || code != std::errc{} || end != digits.data() + digits.size() || v < 0)
    return wrong("is not a register number");
  if (at_address) {
    if (v > 65535 || !fallback) return wrong("is not an address from @0 to @65535");
    return RegisterPlace{*fallback, v};
  }
  if (digits.size() >= 5) {
    const int base = digits.size() == 5 ? 10000 : 100000;
    const int number = v % base;
    if (number < 1 || number > 65536) return wrong("is not a register number: counting starts at 1");
    switch (digits[0]) {
      case '0':
        return RegisterPlace{RegisterTable::coil, number - 1};
      case '1':
        return RegisterPlace{RegisterTable::discrete_input, number - 1};
      case '3':
        return RegisterPlace{RegisterTable::input_register, number - 1};
      case '4':
        return RegisterPlace{RegisterTable::holding_register, number - 1};
      default:
        return wrong("does not begin with 0, 1, 3 or 4");
    }
  }
  const bool bits = fallback == RegisterTable::coil || fallback == RegisterTable::discrete_input;
  if (!bits) return wrong("does not say which table: sheets differ in whether they count from 0 or 1");
  if (v < 1) return wrong("is not a relay or contact: counting starts at 1");
  if (digits[0] == '0') return wrong("begins with 0");
  return RegisterPlace{*fallback, v - 1};
}

}  // namespace riserkeep
