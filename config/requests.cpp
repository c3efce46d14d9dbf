#include "config/requests.h"

#include <fmt/format.h>

namespace riserkeep {

namespace {

std::uint8_t high(int v) { return static_cast<std::uint8_t>((v >> 8) & 0xff); }
std::uint8_t low(int v) { return static_cast<std::uint8_t>(v & 0xff); }

std::uint8_t read_function(RegisterTable table) {
  switch (table) {
    case RegisterTable::coil:
      return 1;
    case RegisterTable::discrete_input:
      return 2;
    case RegisterTable::input_register:
      return 4;
    case RegisterTable::holding_register:
      return 3;
  }
  return 3;
}

}  // namespace

std::uint16_t modbus_crc(const Bytes& bytes) {
  unsigned crc = 0xFFFF;
  for (const std::uint8_t b : bytes) {
    crc ^= b;
    for (int i = 0; i < 8; ++i) crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0xA001u : crc >> 1;
  }
  return static_cast<std::uint16_t>(crc);
}

Bytes read_request(RegisterTable table, int address, int count) {
  return {read_function(table), high(address), low(address), high(count), low(count)};
}

Bytes coil_request(int address, bool on) {
  return {5, high(address), low(address), static_cast<std::uint8_t>(on ? 0xFF : 0x00), 0};
}

Bytes register_request(int address, int value) { return {6, high(address), low(address), high(value), low(value)}; }

Bytes framed(const LinkWiring& link, int unit, const Bytes& pdu) {
  Bytes out;
  const bool serial = std::holds_alternative<ModbusRtu>(link.where);
  if (!serial) out = {0, 1, 0, 0, 0, static_cast<std::uint8_t>(pdu.size() + 1)};
  out.push_back(static_cast<std::uint8_t>(unit));
  out.insert(out.end(), pdu.begin(), pdu.end());
  if (!serial) return out;
  const std::uint16_t crc = modbus_crc(out);
  out.push_back(low(crc));
  out.push_back(high(crc));
  return out;
}

std::string hex(const Bytes& bytes) {
  std::string out;
  for (const std::uint8_t b : bytes) out += fmt::format("{}{:02X}", out.empty() ? "" : " ", b);
  return out;
}

int registers_of(ValueType t) {
  return t == ValueType::int32 || t == ValueType::uint32 || t == ValueType::float32 ? 2 : 1;
}

}  // namespace riserkeep
