// The bus thread against the simulated room: both ends of the product over real Modbus TCP.
#include <doctest/doctest.h>

#include <atomic>
#include <thread>

#include "bench.h"
#include "drivers/modbus/bus.h"
#include "drivers/plant/server.h"
#include "plant_fixture.h"

using namespace riserkeep;
using namespace std::chrono_literals;

namespace {
struct LiveRoom {
  explicit LiveRoom(double scale) : server(room, b.wiring, b.site, 0, scale), thread([this] { server.run(stop); }) {}
  ~LiveRoom() {
    stop = true;
    thread.join();
  }
  static plant_test::Bench quick() {
    auto out = plant_test::bench();
    for (Channel& c : out.site.channels) c.poll = 50ms;
    return out;
  }
  plant_test::Bench b = quick();
  SimulatedRoom room{b.site, plant_test::still(b.site)};
  PlantServer server;
  std::atomic<bool> stop = false;
  std::thread thread;
};

std::optional<double> newest(const bench::Collector& got, ChannelId id, Signal s) {
  std::optional<double> out;
  for (const Reading& r : got.readings())
    if (r.channel == id && r.quality == Quality::good && r.ticks) out = static_cast<double>(*r.ticks) * tick_of(s);
  return out;
}
}  // namespace

TEST_CASE("plant bus: the bus thread reads the room, opens its vent and shuts it again") {
  LiveRoom r(120);
  bench::RealClock clock;
  bench::Collector got;
  ModbusBus bus(r.b.site, bench::tcp_link(r.server.port(), 1s), r.b.wiring.registers, r.b.wiring.coils, clock,
                got.sink());
  bus.start();
  REQUIRE(bench::until(10s, [&] { return newest(got, r.b.pressure[0], Signal::pressure).has_value(); }));
  CHECK(*newest(got, r.b.pressure[0], Signal::pressure) == doctest::Approx(40.0).epsilon(1e-3));
  REQUIRE(bench::until(10s, [&] { return newest(got, r.b.oxygen, Signal::oxygen).has_value(); }));
  CHECK(*newest(got, r.b.oxygen, Signal::oxygen) == doctest::Approx(20.946).epsilon(1e-3));

  bus.order(bench::open_order(r.b.vent[0], 1, clock.now(), 30s));
  REQUIRE(bench::until(10s, [&] { return got.saw(r.b.vent[0], OutputOutcome::confirmed, OutputState::open); }));
  CHECK(bench::until(10s, [&] { return newest(got, r.b.pressure[0], Signal::pressure).value_or(99) < 39.0; }));
  bus.order(bench::close_order(r.b.vent[0], 2, clock.now()));
  CHECK(bench::until(10s, [&] { return got.saw(r.b.vent[0], OutputOutcome::confirmed, OutputState::shut); }));
  bus.stop();
  CHECK(bench::until(10s, [&] { return r.server.command("truth").find("vent open") == std::string::npos; }));
}
