#include <algorithm>
#include <array>
#include <charconv>

#include <fmt/format.h>

#include "config/load/devices.h"
#include "config/load/wiring.h"

namespace riserkeep {

namespace {

bool is_numeric_host(std::string_view host) {
  if (host.find(':') != std::string_view::npos)
    return host.find_first_not_of("0123456789abcdefABCDEF:.") == std::string_view::npos;
  int parts = 0;
  while (true) {
    const auto dot = host.find('.');
    const std::string_view part = host.substr(0, dot);
    int v = 0;
    const auto [end, code] = std::from_chars(part.data(), part.data() + part.size(), v);
    if (part.empty() || part.size() > 3 || code != std::errc{} || end != part.data() + part.size() || v > 255 ||
        (part.size() > 1 && part[0] == '0'))
      return false;
    ++parts;
    if (dot == std::string_view::npos) return parts == 4;
    host.remove_prefix(dot + 1);
  }
}

std::optional<ModbusTcp> read_tcp(const Field& f) {
  const auto text = read_text(f);
  if (!text) return std::nullopt;
  ModbusTcp out;
  std::string_view host = *text, port;
  if (!host.empty() && host[0] == '[') {
    const auto close = host.find(']');
    if (close != std::string_view::npos && close + 1 < host.size() && host[close + 1] == ':')
      port = host.substr(close + 2);
    host = host.substr(1, close == std::string_view::npos ? close : close - 1);
  } else if (const auto colon = host.find(':');
             colon != std::string_view::npos && host.find(':', colon + 1) == std::string_view::npos) {
    port = host.substr(colon + 1);
    host = host.substr(0, colon);
    if (port.empty()) port = "?";
  }
  if (!is_numeric_host(host)) {
    f.error(
        fmt::format("'{}' is not a numeric address", *text),
        "write it like 192.0.2.20, 192.0.2.20:502 or [2001:db8::20]:502; a name would need a name server to answer");
    return std::nullopt;
  }
  out.host = std::string(host);
  if (port.empty()) return out;
  int v = 0;
  const auto [end, code] = std::from_chars(port.data(), port.data() + port.size(), v);
  if (code != std::errc{} || end != port.data() + port.size() || v < 1 || v > 65535) {
    f.error(fmt::format("'{}' is not a port", port), "write a number from 1 to 65535 after the ':'");
    return std::nullopt;
  }
  out.port = static_cast<std::uint16_t>(v);
  return out;
}

std::optional<ModbusRtu> read_rtu(const Field& f, Section& s) {
  ModbusRtu out;
  const auto text = read_text(f);
  if (text) {
    out.device = *text;
    if (out.device[0] != '/')
      f.error(fmt::format("'{}' is not a device path", *text), "write it like /dev/serial/by-id/usb-...");
    else if (out.device.rfind("/dev/ttyUSB", 0) == 0 || out.device.rfind("/dev/ttyACM", 0) == 0)
      f.warn(fmt::format("{} changes its number when adapters are re-plugged, and another bus may answer", out.device),
             "use the name under /dev/serial/by-id/");
  }
  if (const auto baud = s.get("baud")) {
    const std::vector<std::string> known{"1200", "2400", "4800", "9600", "19200", "38400", "57600", "115200"};
    if (const auto i = read_choice(*baud, known)) out.baud = std::stoi(known[*i]);
  }
  if (const auto framing = s.get("framing")) {
    const std::vector<std::string> known{"8E1", "8O1", "8N1", "8N2", "8E2", "8O2"};
    if (const auto i = read_choice(*framing, known)) {
      out.parity = known[*i][1];
      out.stop_bits = known[*i][2] - '0';
    }
  }
  return text ? std::optional{out} : std::nullopt;
}

std::optional<Mqtt> read_mqtt(const Field& f, Section& s) {
  Mqtt out;
  const auto text = read_text(f);
  if (text) {
    out.uri = *text;
    const auto scheme = text->find("://");
    const std::string_view name = std::string_view(*text).substr(0, scheme == std::string::npos ? 0 : scheme);
    if ((name != "mqtt" && name != "mqtts") || text->size() <= scheme + 3)
      f.error(fmt::format("'{}' is not a broker address", *text),
              "write it like mqtt://127.0.0.1:1883 or mqtts://broker.example");
    else if (text->find('@') != std::string::npos)
      f.error("a user or password does not belong into the address", "use the keys user and password_file");
  }
  const auto plain = [&s](const char* key, std::string& into) {
    if (const auto k = s.get(key))
      if (const auto t = read_text(*k)) into = *t;
  };
  plain("user", out.user);
  plain("password_file", out.password_file);
  plain("ca_file", out.ca_file);
  if (s.get("password"))
    s.field().error("a password must not be in the site file",
                    "put it into a file and name that: password_file: /etc/riserkeep/broker.pass");
  return text ? std::optional{out} : std::nullopt;
}

void read_link(Build& b, const Field& f, const std::string& key) {
  Section s(f, "{modbus_tcp: 192.0.2.20}");
  const LinkId id = id_at<LinkId>(b.d.site.links.size());
  LinkWiring w;
  w.link = id;
  int ways = 0;
  bool broker = false;
  if (const auto tcp = s.get("modbus_tcp")) {
    ++ways;
    if (auto v = read_tcp(*tcp)) w.where = *v;
  }
  if (const auto rtu = s.get("modbus_rtu")) {
    ++ways;
    if (auto v = read_rtu(*rtu, s)) w.where = *v;
  }
  if (const auto mqtt = s.get("mqtt")) {
    ++ways;
    broker = true;
    if (auto v = read_mqtt(*mqtt, s)) w.where = *v;
  }
  if (ways != 1 && f.is_map())
    f.error(ways == 0 ? "how this link is reached is missing" : "a link is reached in one way only",
            "give one of modbus_tcp, modbus_rtu or mqtt");
  if (const auto k = s.get("time_out"))
    w.time_out = read_duration(*k, milliseconds(50), seconds(10)).value_or(w.time_out);
  if (const auto k = s.get("min_gap")) w.min_gap = read_duration(*k, milliseconds(0), seconds(2)).value_or(w.min_gap);
  if (const auto k = s.get("connect_delay"))
    w.connect_delay = read_duration(*k, milliseconds(0), seconds(10)).value_or(w.connect_delay);
  b.link_keys.push_back(key);
  b.d.site.links.push_back({slug(key), broker});
  b.d.wiring.links.push_back(std::move(w));
  const auto unit = s.get("unit");
  if (!unit || broker) {
    if (unit) unit->error("a broker has no unit", "remove the key");
    return;
  }
  DeviceEntry device{key, id, read_unit(s, unit), {}, read_device_time_out(s)};
  read_form(s, device.form, false);
  b.devices.push_back(std::move(device));
}

}  // namespace

void read_links(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  b.has_links = true;
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like riser_bus: {modbus_tcp: 192.0.2.20}");
    return;
  }
  for (const Entry& e : f->node->entries) read_link(b, f->of(e), e.key);
}

}  // namespace riserkeep
