#include <doctest/doctest.h>

#include <algorithm>
#include <sstream>
#include <string>

#include "config/load/load.h"
#include "config/report.h"
#include "config/requests.h"

using namespace riserkeep;

namespace {
Bytes text_bytes(std::string_view s) { return {s.begin(), s.end()}; }

LinkWiring serial_link() {
  LinkWiring w;
  w.where = ModbusRtu{};
  return w;
}

std::string report_of(const std::string& name) {
  const Loaded loaded = load_site_file(RISERKEEP_SOURCE_DIR "/config/examples/" + name, Purpose::check);
  REQUIRE(loaded.description.has_value());
  return check_report(*loaded.description);
}
bool contains(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }
}  // namespace

TEST_CASE("the CRC is that of the catalogue and of published frames") {
  CHECK(modbus_crc(text_bytes("123456789")) == 0x4B37);               // CRC catalogue, CRC-16/MODBUS check value
  CHECK(modbus_crc({0x01, 0x03, 0x00, 0x85, 0x00, 0x01}) == 0xE395);  // public issue thread, references 3.2
  CHECK(modbus_crc({0x02, 0x07}) == 0x1241);                          // Modbus over Serial Line V1.02, 6.2.2
  CHECK(modbus_crc({}) == 0xFFFF);
}

TEST_CASE("requests are framed as the protocol says") {
  // The classic example: holding registers 40108 to 40110 of unit 17.
  CHECK(hex(framed(serial_link(), 17, read_request(RegisterTable::holding_register, 0x6B, 3))) ==
        "11 03 00 6B 00 03 76 87");
  CHECK(hex(framed(serial_link(), 17, coil_request(0xAC, true))) == "11 05 00 AC FF 00 4E 8B");
  LinkWiring tcp;
  tcp.where = ModbusTcp{"192.0.2.1"};
  CHECK(hex(framed(tcp, 17, read_request(RegisterTable::holding_register, 0x6B, 3))) ==
        "00 01 00 00 00 06 11 03 00 6B 00 03");
  CHECK(hex(read_request(RegisterTable::coil, 0, 1)) == "01 00 00 00 01");
  CHECK(hex(read_request(RegisterTable::discrete_input, 0, 1)) == "02 00 00 00 01");
  CHECK(hex(read_request(RegisterTable::input_register, 0, 1)) == "04 00 00 00 01");
  CHECK(hex(register_request(100, 20)) == "06 00 64 00 14");
}

TEST_CASE("a CRC over a frame and its own CRC is zero") {
  for (int address = 0; address < 65536; address += 257)
    CHECK(modbus_crc(framed(serial_link(), 3, read_request(RegisterTable::input_register, address, 1))) == 0);
}

TEST_CASE("the report shows ladder, registers and times in 80 columns of ASCII") {
  for (const char* name : {"quillmere.yaml", "demo.yaml", "demo-live.yaml", "minimal.yaml"}) {
    std::istringstream lines(report_of(name));
    for (std::string line; std::getline(lines, line);) {
      CHECK_MESSAGE(line.size() <= 80, line);
      CHECK(std::all_of(line.begin(), line.end(), [](char c) { return c >= 0x20 && c < 0x7f; }));
    }
  }
}

TEST_CASE("the ladder of the example is the one worked by hand") {
  const std::string report = report_of("quillmere.yaml");
  // Trip 100 psi / 5.5 = 18.2; limit 28 + 8 % of 40 = 31.2; the floor lies the margin above.
  CHECK(contains(report, "Loading dock     18.2   28.0   31.2"));
  CHECK(contains(report, "Roof void        13.0   20.0   23.0"));
  CHECK(contains(report, "input register 1, address 0"));
  CHECK(contains(report, "03 04 00 00 00 01"));
  CHECK(contains(report, "coil 1, address 0"));
  CHECK(contains(report, "00 01 00 00 00 06 01 05 00 00 FF 00"));
  CHECK(contains(report, "00 01 00 00 00 06 01 06 00 64 00 14"));  // 40101 = 20 s
  CHECK(contains(report, "not known: no volume"));
}

TEST_CASE("a dead device costs three time-outs, and no more devices die than a bus has") {
  const Loaded loaded = load_site_file(RISERKEEP_SOURCE_DIR "/config/examples/quillmere.yaml", Purpose::check);
  REQUIRE(loaded.description.has_value());
  const Wiring& w = loaded.description->wiring;
  const BusCycle bus = bus_cycle(w, LinkId{0});
  CHECK(bus.seconds_two_dead - bus.seconds == doctest::Approx(6.0));
  const BusCycle relays = bus_cycle(w, LinkId{1});
  CHECK(relays.seconds_two_dead - relays.seconds == doctest::Approx(3.0));
  CHECK(bus.requests > 0);
  CHECK(bus.seconds > 0.1);
  CHECK(bus.seconds < 2.0);
}
