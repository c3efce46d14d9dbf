#include "drivers/plant/server.h"

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <modbus.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <bit>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <memory>
#include <system_error>
#include <thread>
#include <vector>

#include "drivers/plant/encode.h"
#include "plant_fixture.h"

using namespace riserkeep;
using plant_test::system_no;

namespace {
using Bus = std::unique_ptr<modbus_t, decltype([](modbus_t* m) {
                              modbus_close(m);
                              modbus_free(m);
                            })>;

Bus dial(int port, int unit, std::uint32_t reply_seconds = 3) {
  Bus bus{modbus_new_tcp("127.0.0.1", port)};
  modbus_set_response_timeout(bus.get(), reply_seconds, 0);
  modbus_set_byte_timeout(bus.get(), 0, 0);
  REQUIRE(modbus_set_slave(bus.get(), unit) == 0);
  REQUIRE(modbus_connect(bus.get()) == 0);
  return bus;
}

struct Running {
  explicit Running(const plant_test::Bench& b, double scale = 1.0)
      : bench(b),
        room(bench.site, plant_test::still(bench.site)),
        server(room, bench.wiring, bench.site, 0, scale),
        thread([this] { server.run(stop); }) {}
  ~Running() {
    stop = true;
    thread.join();
  }
  plant_test::Bench bench;
  SimulatedRoom room;
  PlantServer server;
  std::atomic<bool> stop = false;
  std::thread thread;
};

template <class Condition>
bool within(std::chrono::milliseconds most, Condition c) {
  const auto until = std::chrono::steady_clock::now() + most;
  while (std::chrono::steady_clock::now() < until) {
    if (c()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return c();
}

// One raw exchange: what libmodbus would never send.
std::vector<std::uint8_t> raw(int port, const std::vector<std::uint8_t>& bytes) {
  const int fd = ::socket(AF_INET, SOCK_STREAM, 0);
  REQUIRE(fd >= 0);
  const timeval wait{0, 300000};
  ::setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &wait, sizeof wait);
  sockaddr_in at{};
  at.sin_family = AF_INET;
  at.sin_port = htons(static_cast<std::uint16_t>(port));
  at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  const void* where = &at;
  REQUIRE(::connect(fd, static_cast<const sockaddr*>(where), sizeof at) == 0);
  CHECK(::send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(bytes.size()));
  std::vector<std::uint8_t> out(300);
  const ssize_t n = ::recv(fd, out.data(), out.size(), 0);
  ::close(fd);
  out.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
  return out;
}

RegisterPoint as(ValueType type, WordOrder order) {
  RegisterPoint p;
  p.type = type;
  p.order = order;
  return p;
}
}  // namespace

TEST_CASE("plant server: word orders of float32, IEEE 754 bit patterns of 40.0 and -12.5") {
  using W = std::array<std::uint16_t, 2>;
  CHECK(plant::encode_words(as(ValueType::float32, WordOrder::abcd), 40.0) == W{0x4220, 0x0000});
  CHECK(plant::encode_words(as(ValueType::float32, WordOrder::cdab), 40.0) == W{0x0000, 0x4220});
  CHECK(plant::encode_words(as(ValueType::float32, WordOrder::badc), 40.0) == W{0x2042, 0x0000});
  CHECK(plant::encode_words(as(ValueType::float32, WordOrder::dcba), 40.0) == W{0x0000, 0x2042});
  CHECK(plant::encode_words(as(ValueType::float32, WordOrder::abcd), -12.5) == W{49480, 0});
  CHECK(plant::encode_words(as(ValueType::int32, WordOrder::abcd), -100000.0) == W{0xfffe, 0x7960});
  CHECK(plant::encode_words(as(ValueType::int16, WordOrder::abcd), -1.0) == W{65535, 0});
  CHECK(plant::encode_words(as(ValueType::uint32, WordOrder::cdab), 4294967295.0) == W{0xffff, 0xffff});
}

TEST_CASE("plant server: current loops scale by span and stay inside the NE 43 band while they work") {
  RegisterPoint p = as(ValueType::uint16, WordOrder::abcd);
  p.conversion.loop = CurrentLoop{0.001, 0, 100};
  const auto counts = [&p](std::optional<double> v) { return plant::encode_words(p, v)[0]; };
  CHECK(counts(0.0) == 4000);
  CHECK(counts(40.0) == 10400);
  CHECK(counts(100.0) == 20000);
  CHECK(counts(103.125) == 20500);
  CHECK(counts(500.0) == 20500);  // saturated, NAMUR NE 43
  CHECK(counts(-50.0) == 3800);
  CHECK(counts(std::nullopt) == 0);  // below 3.6 mA: failed low
}

TEST_CASE("plant server: dead instruments say so by their own code, by NaN, or by the end of the range") {
  RegisterPoint p = as(ValueType::int16, WordOrder::abcd);
  CHECK(plant::encode_words(p, std::nullopt)[0] == 0x8000);
  p.conversion.invalid = {32767};
  CHECK(plant::encode_words(p, std::nullopt)[0] == 32767);
  CHECK(plant::encode_words(as(ValueType::uint16, WordOrder::abcd), std::nullopt)[0] == 0xffff);
  CHECK((plant::encode_words(as(ValueType::float32, WordOrder::abcd), std::nullopt)[0] & 0x7f80) == 0x7f80);
}

TEST_CASE("plant server: libmodbus reads every table of every unit") {
  Running r(plant_test::bench());
  std::uint16_t words[8];
  std::uint8_t bits[16];
  const Bus analog = dial(r.server.port(), 3);
  REQUIRE(modbus_read_input_registers(analog.get(), 0, 2, words) == 2);
  CHECK(words[0] == 4000 + 16 * 200);  // 40 psi of 0 to 200
  const Bus oxygen = dial(r.server.port(), 7);
  REQUIRE(modbus_read_input_registers(oxygen.get(), 0, 2, words) == 2);
  CHECK(modbus_get_float_cdab(words) == doctest::Approx(20.946));
  REQUIRE(modbus_read_registers(oxygen.get(), 10, 1, words) == 1);
  CHECK(words[0] == 50);  // 0.50 % at 0.01 a count
  const Bus contacts = dial(r.server.port(), 4);
  REQUIRE(modbus_read_input_bits(contacts.get(), 0, 13, bits) == 13);
  CHECK(bits[0] == 0);
  CHECK(bits[4] == 1);  // waterflow contact wired inverted
}

TEST_CASE("plant server: coils open the vent, one by one and together, and read back") {
  Running r(plant_test::bench(), 60);
  const Bus relays = dial(r.server.port(), 1);
  std::uint8_t bits[8] = {};
  REQUIRE(modbus_write_bit(relays.get(), 0, 1) == 1);
  REQUIRE(modbus_read_bits(relays.get(), 0, 8, bits) == 8);
  CHECK(bits[0] == 1);
  CHECK(bits[1] == 0);
  const Bus analog = dial(r.server.port(), 3);
  CHECK(within(std::chrono::seconds(10), [&] {
    std::uint16_t w = 0;
    return modbus_read_input_registers(analog.get(), 0, 1, &w) == 1 && w < 4000 + 16 * 199;
  }));
  const std::uint8_t both[2] = {0, 1};
  REQUIRE(modbus_write_bits(relays.get(), 0, 2, both) == 2);
  REQUIRE(modbus_read_bits(relays.get(), 0, 2, bits) == 2);
  CHECK(bits[0] == 0);
  CHECK(bits[1] == 1);
}

TEST_CASE("plant server: exceptions 1, 2, 3 and 11 of the Modbus Application Protocol V1.1b3") {
  Running r(plant_test::bench());
  std::uint16_t words[130];
  const Bus analog = dial(r.server.port(), 3);
  CHECK(modbus_read_input_registers(analog.get(), 100, 1, words) == -1);
  CHECK(errno == EMBXILADD);
  CHECK(modbus_read_registers(analog.get(), 0, 1, words) == -1);  // has no holding registers
  CHECK(errno == EMBXILADD);
  CHECK(modbus_write_register(analog.get(), 0, 1) == -1);
  CHECK(errno == EMBXILADD);
  const Bus nobody = dial(r.server.port(), 99);
  CHECK(modbus_read_input_registers(nobody.get(), 0, 1, words) == -1);
  CHECK(errno == EMBXGTAR);
  const Bus relays = dial(r.server.port(), 1);
  CHECK(modbus_write_bit(relays.get(), 3, 1) == -1);
  CHECK(errno == EMBXILADD);
  using Raw = std::vector<std::uint8_t>;
  CHECK(raw(r.server.port(), {0, 9, 0, 0, 0, 2, 3, 7}) == Raw{0, 9, 0, 0, 0, 3, 3, 0x87, 1});
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 6, 3, 4, 0, 0, 0, 126}) == Raw{0, 1, 0, 0, 0, 3, 3, 0x84, 3});
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 6, 3, 4, 0, 0, 0, 0}) == Raw{0, 1, 0, 0, 0, 3, 3, 0x84, 3});
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 6, 1, 5, 0, 0, 0, 1}) == Raw{0, 1, 0, 0, 0, 3, 1, 0x85, 3});
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 8, 1, 15, 0, 0, 0, 2, 9, 1}) == Raw{0, 1, 0, 0, 0, 3, 1, 0x8f, 3});
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 6, 3, 4, 0xff, 0xff, 0, 2}) == Raw{0, 1, 0, 0, 0, 3, 3, 0x84, 2});
}

TEST_CASE("plant server: rubbish closes the connection and hurts nobody else") {
  Running r(plant_test::bench());
  CHECK(raw(r.server.port(), {'G', 'E', 'T', ' ', '/', ' ', 'H', 'T', 'T', 'P'}).empty());
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0xff, 0xff, 3, 4}).empty());
  CHECK(raw(r.server.port(), {0, 1, 0, 0, 0, 1, 3}).empty());
  std::vector<Bus> many;
  for (int i = 0; i < 8; ++i) many.push_back(dial(r.server.port(), 3));
  std::uint16_t w = 0;
  for (const Bus& bus : many) CHECK(modbus_read_input_registers(bus.get(), 0, 1, &w) == 1);
}

TEST_CASE("plant server: a silent unit does not answer while the others do") {
  Running r(plant_test::bench());
  std::uint16_t w = 0;
  const Bus analog = dial(r.server.port(), 3, 1);
  CHECK(r.server.command("fault unit 3 silent") == "now: unit 3 silent");
  CHECK(modbus_read_input_registers(analog.get(), 0, 1, &w) == -1);
  CHECK(errno == ETIMEDOUT);
  const Bus oxygen = dial(r.server.port(), 7);
  CHECK(modbus_read_registers(oxygen.get(), 10, 1, &w) == 1);
  CHECK(r.server.command("clear unit 3 silent") == "mended: unit 3 silent");
  const Bus again = dial(r.server.port(), 3);
  CHECK(modbus_read_input_registers(again.get(), 0, 1, &w) == 1);
}

TEST_CASE("plant server: the relay watchdog shuts the vent when its master falls silent") {
  Running r(plant_test::bench());
  std::uint16_t w = 0;
  std::uint8_t bit = 0;
  {
    const Bus relays = dial(r.server.port(), 1);
    REQUIRE(modbus_read_registers(relays.get(), 100, 1, &w) == 1);
    CHECK(w == 20);  // as the fitter has set it
    REQUIRE(modbus_write_register(relays.get(), 100, 2) == 1);
    REQUIRE(modbus_write_bit(relays.get(), 0, 1) == 1);
    for (int i = 0; i < 25; ++i) {  // 2.5 s of requests: held
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
      REQUIRE(modbus_read_bits(relays.get(), 0, 1, &bit) == 1);
      CHECK(bit == 1);
    }
  }
  std::this_thread::sleep_for(std::chrono::milliseconds(2300));
  const Bus relays = dial(r.server.port(), 1);
  REQUIRE(modbus_read_bits(relays.get(), 0, 1, &bit) == 1);
  CHECK(bit == 0);
}

TEST_CASE("plant server: commands are answered in words") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  PlantServer server(room, b.wiring, b.site, 0);
  const auto says = [&server](const char* line, const char* part) {
    const std::string got = server.command(line);
    CHECK_MESSAGE(got.find(part) != std::string::npos, got);
  };
  says("help", "vent blocked");
  says("fault north-hall leak 12", "now: north-hall leak 12");
  says("faults", "north-hall leak 12");
  says("truth", "north-hall: 40.000 psi");
  says("clear north-hall leak", "mended");
  says("clear north-hall leak", "no fault");
  says("fault attic leak 1", "'attic' is no place");
  says("reset north-hall", "has not opened");
  says("reset attic", "no system");
  says("clear all", "everything mended");
  says("dance", "'dance' is no command");
  CHECK(server.command("  ").empty());
  CHECK(server.conflicts().empty());
}

TEST_CASE("plant server: two points in one place are told, a port in use is refused") {
  auto b = plant_test::bench();
  b.wiring.registers.push_back(b.wiring.registers.back());
  SimulatedRoom room(b.site, plant_test::still(b.site));
  PlantServer first(room, b.wiring, b.site, 0);
  CHECK(first.conflicts().size() == 1);
  try {
    PlantServer second(room, b.wiring, b.site, first.port());
    FAIL("two servers on one port");
  } catch (const std::system_error& e) { CHECK(e.code().value() == EADDRINUSE); }
}
