// The bytes of Modbus requests, as a bus monitor shows them. For `check` and the documentation; the drivers
// have their own. Source: MODBUS Application Protocol V1.1b3; MODBUS over Serial Line V1.02, 6.2.2 (CRC).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "config/wiring.h"

namespace riserkeep {

using Bytes = std::vector<std::uint8_t>;

std::uint16_t modbus_crc(const Bytes&);                     // low byte is sent first
Bytes read_request(RegisterTable, int address, int count);  // PDU, functions 1 to 4
Bytes coil_request(int address, bool on);                   // PDU, function 5
Bytes register_request(int address, int value);             // PDU, function 6
// As sent: serial with unit and CRC, TCP with the header and transaction 1.
Bytes framed(const LinkWiring&, int unit, const Bytes& pdu);
std::string hex(const Bytes&);  // "03 04 00 00 00 01"
int registers_of(ValueType);    // 1 or 2

}  // namespace riserkeep
