// Bytes on the wire against published frames and check sums, on a pseudo terminal and a socket of our own.
#include <doctest/doctest.h>

#include <array>

#include "../drivers/bench.h"
#include "../drivers/peer.h"
#include "drivers/decode.h"
#include "drivers/modbus/wire.h"

using namespace riserkeep;
using namespace bench;

// CRC-16/MODBUS of the CRC catalogue (check 0x4B37) and of public test suites; the scripted device of these
// tests computes its own, so it is checked before the wire is checked against it.
TEST_CASE("CRC-16/MODBUS: catalogue check value and published frames") {
  struct Row { Bytes bytes; std::uint16_t crc; };
  const Row rows[] = {
      {{'1', '2', '3', '4', '5', '6', '7', '8', '9'}, 0x4B37},
      {{1, 2, 3, 4, 5, 6, 7, 8, 9}, 0xB20E},
      {{0x03, 0x01, 0x04}, 0x9381},
      {{0x19, 0x89, 0x56}, 0xA947},
      {{0x01, 0x03, 0x00, 0x85, 0x00, 0x01}, 0xE395},
      {{0x01, 0x03, 0x00, 0x00, 0x00, 0x0A}, 0xCDC5},
      {{0x11, 0x03, 0x00, 0x6B, 0x00, 0x03}, 0x8776},
      {{0x11, 0x05, 0x00, 0xAC, 0xFF, 0x00}, 0x8B4E},
      {{0x01, 0x04, 0x00, 0x00, 0x00, 0x02}, 0xCB71},
      {{0x01, 0x83, 0x02}, 0xF1C0},
      {{0x01, 0x03, 0x04, 0x42, 0x20, 0x00, 0x00}, 0x81EF},
      {{0x02, 0x07}, 0x1241},
      {{0x00}, 0x40BF},
      {{0xFF}, 0x00FF},
      {{}, 0xFFFF},
  };
  for (const Row& row : rows) {
    CHECK(crc16(row.bytes) == row.crc);
    CHECK(crc16(with_crc(row.bytes)) == 0);   // the residue: frame and its check sum
  }
}

TEST_CASE("RTU requests leave as the classic frames, and 42 20 00 00 comes back as 40.0") {
  Peer peer(Peer::Serial{});
  peer.with([](Memory& m) {
    m.registers[0] = 0x4220;
    m.registers[1] = 0x0000;
    return 0;
  });
  Wire wire(rtu_link(peer.device(), seconds(1)));
  REQUIRE_FALSE(wire.connect().has_value());
  std::array<std::uint16_t, 3> three{};
  std::array<std::uint16_t, 2> two{};
  CHECK(wire.read(0x11, RegisterTable::holding_register, 0x6B, three).trouble == Trouble::none);
  CHECK(wire.read(0x01, RegisterTable::input_register, 0, two).trouble == Trouble::none);
  CHECK(wire.write_coil(0x11, 0xAC, true).trouble == Trouble::none);
  const auto frames = peer.frames();
  REQUIRE(frames.size() == 3);
  CHECK(frames[0] == Bytes{0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87});
  CHECK(frames[1] == Bytes{0x01, 0x04, 0x00, 0x00, 0x00, 0x02, 0x71, 0xCB});
  CHECK(frames[2] == Bytes{0x11, 0x05, 0x00, 0xAC, 0xFF, 0x00, 0x4E, 0x8B});
  CHECK(raw_value(two, ValueType::float32, WordOrder::abcd).value == 40.0);
}

// Modbus Application Protocol V1.1b3, MBAP header: transaction, protocol 0, length 6, unit, then the request.
TEST_CASE("TCP request: 00 01 00 00 00 06 11 03 00 6B 00 03") {
  Peer peer(0);
  Wire wire(tcp_link(peer.port(), seconds(1)));
  REQUIRE_FALSE(wire.connect().has_value());
  std::array<std::uint16_t, 3> three{};
  CHECK(wire.read(0x11, RegisterTable::holding_register, 0x6B, three).trouble == Trouble::none);
  REQUIRE(peer.frames().size() == 1);
  CHECK(peer.frames()[0] == Bytes{0x00, 0x01, 0x00, 0x00, 0x00, 0x06, 0x11, 0x03, 0x00, 0x6B, 0x00, 0x03});
}

// Modbus Application Protocol V1.1b3, section 7: exception codes.
TEST_CASE("Exception answers are refusals with their code, the link stays in step") {
  for (const int code : {1, 2, 3, 4, 6, 10, 11}) {
    Peer peer(0, [code](const Asked&, int n) { return Act{.exception = n == 1 ? code : 0}; });
    Wire wire(tcp_link(peer.port(), seconds(1)));
    REQUIRE_FALSE(wire.connect().has_value());
    std::array<std::uint16_t, 1> one{};
    const Answer a = wire.read(1, RegisterTable::input_register, 7, one);
    CHECK(a.trouble == Trouble::refused);
    CHECK(a.exception == code);
    CHECK(wire.read(1, RegisterTable::input_register, 7, one).trouble == Trouble::none);
    CHECK(one[0] == 7);
  }
}
