#include "drivers/plant/devices.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "drivers/plant/encode.h"

namespace riserkeep::plant {

namespace {
// Exceptions of the Modbus Application Protocol V1.1b3, section 7.
constexpr std::uint8_t kIllegalFunction = 1, kIllegalAddress = 2, kIllegalValue = 3, kTargetSilent = 11;
constexpr int kBlock = 8;  // devices come with whole blocks of registers: what lies between two points reads zero

std::size_t index(RegisterTable t) { return static_cast<std::size_t>(t); }
int word(std::span<const std::uint8_t> bytes, std::size_t at) { return bytes[at] * 256 + bytes[at + 1]; }
void push(Bytes& out, int w) {
  out.push_back(static_cast<std::uint8_t>(w >> 8));
  out.push_back(static_cast<std::uint8_t>(w & 0xff));
}
Bytes exception(std::uint8_t function, std::uint8_t code) {
  return {static_cast<std::uint8_t>(function | 0x80U), code};
}
bool is_bus(const Wiring& w, LinkId id) {
  return std::none_of(w.links.begin(), w.links.end(),
                      [id](const LinkWiring& l) { return l.link == id && std::holds_alternative<Mqtt>(l.where); });
}
std::optional<Duration> time_out_of(int counts, const DeviceTimeOut& t) {
  if (counts == 0 || !(t.counts_per_second > 0)) return std::nullopt;
  return from_seconds(counts / t.counts_per_second);
}
}  // namespace

Devices::Devices(SimulatedRoom& room, const Wiring& wiring, const Site& site) : room_(room) {
  for (const Output& o : site.outputs) kinds_.push_back(o.kind);
  for (const RegisterPoint& p : wiring.registers)
    if (is_bus(wiring, p.link)) place(p);
  for (const CoilOutput& c : wiring.coils)
    if (is_bus(wiring, c.link)) place(c, site);
}

Devices::Unit& Devices::unit_at(int unit, LinkId link) {
  const auto [it, fresh] = units_.try_emplace(unit);
  if (fresh) it->second.link = link;
  return it->second;
}

void Devices::place(const RegisterPoint& p) {
  auto& table = unit_at(p.unit, p.link).tables[index(p.table)];
  const bool bits = p.table == RegisterTable::coil || p.table == RegisterTable::discrete_input;
  const int words = bits ? 1 : words_of(p.type);
  for (int w = 0; w < words; ++w) {
    const auto [slot, fresh] = table.try_emplace(p.address + w, Slot{&p, w});
    if (!fresh)
      conflicts_.push_back(fmt::format("unit {} address {}: '{}' stands where '{}' is; the first one is served", p.unit,
                                       p.address + w, p.printed, slot->second.point->printed));
  }
}

void Devices::place(const CoilOutput& c, const Site& site) {
  Unit& unit = unit_at(c.unit, c.link);
  if (const auto [it, fresh] = unit.coils.try_emplace(c.coil, c.output); !fresh)
    conflicts_.push_back(fmt::format("unit {} coil {}: '{}' stands where '{}' is; the first one is served", c.unit,
                                     c.coil, site[c.output].id, site[it->second].id));
  if (!c.device_time_out || unit.time_out) return;
  unit.time_out = c.device_time_out;
  unit.watchdog.set(c.device_time_out->after);  // as the fitter has set the device
}

std::vector<int> Devices::units() const {
  std::vector<int> out;
  for (const auto& [unit, state] : units_) out.push_back(unit);
  return out;
}

std::optional<Bytes> Devices::answer(int unit, std::span<const std::uint8_t> request, EngineTime at) {
  if (request.empty()) return std::nullopt;
  const auto found = units_.find(unit);
  if (room_.unit_silent(unit) || (found != units_.end() && room_.link_silent(found->second.link))) return std::nullopt;
  if (found == units_.end()) return exception(request[0], kTargetSilent);
  Bytes out = dispatch(found->second, request);
  if ((out[0] & 0x80U) == 0) found->second.watchdog.heard(at);
  return out;
}

void Devices::drop_idle_relays(EngineTime at) {
  for (auto& [number, unit] : units_) {
    if (unit.coils.empty() || !unit.watchdog.drops(at)) continue;
    for (const auto& [coil, output] : unit.coils) room_.set_output(output, safe_state(output));
  }
}

Bytes Devices::dispatch(Unit& unit, std::span<const std::uint8_t> request) {
  switch (request[0]) {
    case 1:
      return read_bits(unit, RegisterTable::coil, request);
    case 2:
      return read_bits(unit, RegisterTable::discrete_input, request);
    case 3:
      return read_words(unit, RegisterTable::holding_register, request);
    case 4:
      return read_words(unit, RegisterTable::input_register, request);
    case 5:
    case 15:
      return write_coils(unit, request);
    case 6:
    case 16:
      return write_words(unit, request);
    default:
      return exception(request[0], kIllegalFunction);
  }
}

bool Devices::exists(const Unit& unit, RegisterTable table, int first, int count) const {
  const auto& slots = unit.tables[index(table)];
  int low = 65536, high = -1;
  const auto stretch = [&](int address) { low = std::min(low, address), high = std::max(high, address); };
  if (!slots.empty()) stretch(slots.begin()->first), stretch(slots.rbegin()->first);
  if (table == RegisterTable::coil && !unit.coils.empty())
    stretch(unit.coils.begin()->first), stretch(unit.coils.rbegin()->first);
  if (table == RegisterTable::holding_register && unit.time_out) stretch(unit.time_out->register_address);
  if (high < 0) return false;
  return first >= low / kBlock * kBlock && first + count <= std::min(65536, (high / kBlock + 1) * kBlock);
}

bool Devices::bit_at(const Unit& unit, RegisterTable table, int address) const {
  if (const auto c = unit.coils.find(address); table == RegisterTable::coil && c != unit.coils.end())
    return room_.output(c->second) != safe_state(c->second);
  const auto& slots = unit.tables[index(table)];
  const auto s = slots.find(address);
  return s != slots.end() && encode_bit(*s->second.point, room_.signal(s->second.point->channel));
}

std::uint16_t Devices::word_at(const Unit& unit, RegisterTable table, int address) const {
  if (table == RegisterTable::holding_register && unit.time_out && unit.time_out->register_address == address) {
    const auto after = unit.watchdog.after();
    const double counts = after ? in_seconds(*after) * unit.time_out->counts_per_second : 0.0;
    return static_cast<std::uint16_t>(std::lround(std::clamp(counts, 0.0, 65535.0)));
  }
  const auto& slots = unit.tables[index(table)];
  const auto s = slots.find(address);
  if (s == slots.end()) return 0;
  const RegisterPoint& p = *s->second.point;
  const auto printed = room_.signal(p.channel);
  if (p.type == ValueType::bit) return encode_bit(p, printed) ? 1 : 0;
  return encode_words(p, printed)[static_cast<std::size_t>(s->second.word)];
}

Bytes Devices::read_bits(const Unit& unit, RegisterTable table, std::span<const std::uint8_t> request) const {
  if (request.size() != 5) return exception(request[0], kIllegalValue);
  const int first = word(request, 1), count = word(request, 3);
  if (count < 1 || count > 2000) return exception(request[0], kIllegalValue);
  if (!exists(unit, table, first, count)) return exception(request[0], kIllegalAddress);
  Bytes out{request[0], static_cast<std::uint8_t>((count + 7) / 8)};
  out.resize(2 + static_cast<std::size_t>((count + 7) / 8), 0);
  for (int i = 0; i < count; ++i)
    if (bit_at(unit, table, first + i)) {
      auto& byte = out[2 + static_cast<std::size_t>(i / 8)];
      byte = static_cast<std::uint8_t>(byte | (1U << static_cast<unsigned>(i % 8)));
    }
  return out;
}

Bytes Devices::read_words(const Unit& unit, RegisterTable table, std::span<const std::uint8_t> request) const {
  if (request.size() != 5) return exception(request[0], kIllegalValue);
  const int first = word(request, 1), count = word(request, 3);
  if (count < 1 || count > 125) return exception(request[0], kIllegalValue);
  if (!exists(unit, table, first, count)) return exception(request[0], kIllegalAddress);
  Bytes out{request[0], static_cast<std::uint8_t>(2 * count)};
  for (int i = 0; i < count; ++i) push(out, word_at(unit, table, first + i));
  return out;
}

Bytes Devices::write_coils(Unit& unit, std::span<const std::uint8_t> request) {
  const bool single = request[0] == 5;
  if (request.size() < (single ? 5U : 6U)) return exception(request[0], kIllegalValue);
  const int first = word(request, 1), value = word(request, 3), count = single ? 1 : value;
  const bool whole =
      single ? request.size() == 5 && (value == 0 || value == 0xff00)
             : count >= 1 && count <= 1968 && request[5] == (count + 7) / 8 && request.size() == 6U + request[5];
  if (!whole) return exception(request[0], kIllegalValue);
  for (int i = 0; i < count; ++i)
    if (!unit.coils.contains(first + i)) return exception(request[0], kIllegalAddress);
  for (int i = 0; i < count; ++i) {
    const bool on = single ? value != 0 : (request[6 + static_cast<std::size_t>(i / 8)] >> (i % 8)) % 2 != 0;
    const OutputId output = unit.coils.at(first + i);
    room_.set_output(output, on != safe_state(output));
  }
  return {request.begin(), request.begin() + 5};
}

Bytes Devices::write_words(Unit& unit, std::span<const std::uint8_t> request) {
  const bool single = request[0] == 6;
  if (request.size() < (single ? 5U : 6U)) return exception(request[0], kIllegalValue);
  const int first = word(request, 1), count = single ? 1 : word(request, 3);
  const bool whole = single
                         ? request.size() == 5
                         : count >= 1 && count <= 123 && request[5] == 2 * count && request.size() == 6U + request[5];
  if (!whole) return exception(request[0], kIllegalValue);
  if (!unit.time_out || count != 1 || first != unit.time_out->register_address)
    return exception(request[0], kIllegalAddress);
  unit.watchdog.set(time_out_of(word(request, single ? 3 : 6), *unit.time_out));
  return {request.begin(), request.begin() + 5};
}

}  // namespace riserkeep::plant
