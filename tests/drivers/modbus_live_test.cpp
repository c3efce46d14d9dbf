// The bus thread against a device of our own, over TCP and over a pseudo terminal.
#include <doctest/doctest.h>

#include <algorithm>

#include "bench.h"
#include "drivers/modbus/bus.h"
#include "peer.h"

using namespace riserkeep;
using namespace bench;
using namespace std::chrono_literals;

namespace {

std::size_t wrong(const Collector& c, const std::vector<RegisterPoint>& points) {
  return c.count([&](const Reading& r) {
    return r.ticks && r.quality == Quality::good && *r.ticks != points[r.channel.index].address * 1000LL;
  });
}

}  // namespace

TEST_CASE("TCP: values come from the right registers, at the poll interval, and the link says up once") {
  Peer peer(0);
  const Site s = site(3, 0, 50ms);
  const std::vector points{point(0, 1, 10), point(1, 1, 11), point(2, 2, 40)};
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), points, {}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return got.good(ChannelId{0}) >= 10 && got.good(ChannelId{2}) >= 10; }));
  bus.stop();
  CHECK(wrong(got, points) == 0);
  CHECK(got.links().size() == 1);
  CHECK(peer.connects() == 1);
  for (const Asked& q : peer.asked()) CHECK((q.unit == 1 ? q.count == 2 : q.count == 1));
  const BusHealth h = bus.health();
  CHECK(h.up);
  CHECK(h.failures == 0);
}

TEST_CASE("TCP: one late answer costs one reconnect and no wrong value") {
  Peer peer(0, [](const Asked&, int n) { return n == 3 ? Act{.delay = 250ms} : Act{}; });
  const Site s = site(2, 0, 20ms);
  const std::vector points{point(0, 1, 10), point(1, 1, 20)};
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 100ms), points, {}, clock, got.sink());
  bus.start();
  REQUIRE(until(5s, [&] { return got.good(ChannelId{0}) + got.good(ChannelId{1}) >= 40; }));
  bus.stop();
  CHECK(wrong(got, points) == 0);
  CHECK(peer.connects() <= 3);
  CHECK(got.links().size() == 1);
}

// pitfalls of the packaged library, measured: without the probe every value after a late answer is wrong and no
// error is raised. Here each value is its address, so that a wrong pairing shows.
TEST_CASE("RTU: late answers of 1.1, 1.5 and 3 time-outs give no wrong value in 200 reads") {
  for (const auto late : {110ms, 150ms, 300ms}) {
    CAPTURE(late.count());
    Peer peer(Peer::Serial{}, [late](const Asked&, int n) { return n % 17 == 3 ? Act{.delay = late} : Act{}; });
    const Site s = site(4, 0, 10ms);
    const std::vector points{point(0, 1, 10), point(1, 1, 20), point(2, 1, 30), point(3, 2, 40)};
    RealClock clock;
    Collector got;
    ModbusBus bus(s, rtu_link(peer.device(), 100ms), points, {}, clock, got.sink());
    bus.start();
    const auto good = [&] { return got.count([](const Reading& r) { return r.quality == Quality::good; }); };
    CHECK(until(30s, [&] { return good() >= 200; }));
    bus.stop();
    CHECK(good() >= 200);
    CHECK(wrong(got, points) == 0);
    CHECK(bus.health().resyncs >= 5);
  }
}

TEST_CASE("RTU: noise before an answer is thrown away and the next answers are right") {
  Peer peer(Peer::Serial{}, [](const Asked&, int n) {
    return n % 9 == 4 ? Act{.noise = Bytes(static_cast<std::size_t>(n % 20 + 1), 0x55)} : Act{};
  });
  const Site s = site(2, 0, 10ms);
  const std::vector points{point(0, 1, 10), point(1, 1, 20)};
  RealClock clock;
  Collector got;
  ModbusBus bus(s, rtu_link(peer.device(), 60ms), points, {}, clock, got.sink());
  bus.start();
  CHECK(until(20s, [&] { return got.good(ChannelId{0}) + got.good(ChannelId{1}) >= 60; }));
  bus.stop();
  CHECK(wrong(got, points) == 0);
}

TEST_CASE("A killed peer is told as link down with bad readings, and comes back in the same process") {
  const int port = Peer::free_port();
  const Site s = site(1, 0, 50ms);
  const std::vector points{point(0, 1, 10)};
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(port, 200ms), points, {}, clock, got.sink());
  const auto bad = [&] { return got.count([](const Reading& r) { return r.why == Why::link_lost && !r.ticks; }); };
  {
    Peer peer(port);
    bus.start();
    REQUIRE(until(3s, [&] { return got.good(ChannelId{0}) >= 3; }));
  }
  REQUIRE(until(3s, [&] { return got.links().size() == 2 && bad() >= 1; }));
  CHECK_FALSE(got.links().back().up);
  CHECK_FALSE(bus.health().trouble.empty());
  Peer again(port);
  const std::size_t before = got.good(ChannelId{0});
  CHECK(until(6s, [&] { return got.good(ChannelId{0}) >= before + 3; }));
  CHECK(got.links().back().up);
  bus.stop();
}

TEST_CASE("A server that accepts and hangs up is not stormed") {
  Peer peer(0, [](const Asked&, int) { return Act{.hang_up = true}; });
  const Site s = site(1, 0, 20ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 200ms), {point(0, 1, 10)}, {}, clock, got.sink());
  bus.start();
  std::this_thread::sleep_for(4s);
  bus.stop();
  CHECK(peer.connects() >= 2);
  CHECK(peer.connects() <= 4);       // at 0, 1 and 3 s
}

TEST_CASE("A hole in the registers disables its own point only, by name") {
  Peer peer(0);
  peer.with([](Memory& m) { m.holes.insert(12); return 0; });
  const Site s = site(5, 0, 30ms);
  std::vector<RegisterPoint> points;
  for (std::uint16_t i = 0; i < 5; ++i) points.push_back(point(i, 1, 10 + i));
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), points, {}, clock, got.sink());
  bus.start();
  CHECK(until(5s, [&] {
    return got.good(ChannelId{0}) > 5 && got.good(ChannelId{1}) > 5 && got.good(ChannelId{3}) > 5 && got.good(ChannelId{4}) > 5;
  }));
  bus.stop();
  CHECK(got.good(ChannelId{2}) == 0);
  CHECK(wrong(got, points) == 0);
  REQUIRE(bus.health().disabled_points.size() == 1);
  CHECK(bus.health().disabled_points[0].starts_with("analog 30013: "));
}

TEST_CASE("Two dead devices of eight leave the others their poll interval") {
  Peer peer(Peer::Serial{}, [](const Asked& q, int) { return Act{.silent = q.unit >= 7}; });
  const Site s = site(8, 0, 200ms);
  std::vector<RegisterPoint> points;
  for (std::uint16_t i = 0; i < 8; ++i) points.push_back(point(i, i + 1, 10 * (i + 1)));
  RealClock clock;
  Collector got;
  ModbusBus bus(s, rtu_link(peer.device(), 100ms), points, {}, clock, got.sink());
  bus.start();
  std::this_thread::sleep_for(2s);   // the dead ones are known by now
  const std::size_t before = got.good(ChannelId{0});
  std::this_thread::sleep_for(4s);
  const std::size_t polls = got.good(ChannelId{0}) - before;
  bus.stop();
  CHECK(polls >= 18);
  CHECK(polls <= 22);
  CHECK(wrong(got, points) == 0);
  CHECK(got.links().size() == 1);
  CHECK_FALSE(bus.health().devices[7].answering);
}

TEST_CASE("Polls keep their grid: no drift over 40 intervals") {
  Peer peer(0, [](const Asked&, int) { return Act{.delay = 10ms}; });
  const Site s = site(1, 0, 100ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {point(0, 1, 10)}, {}, clock, got.sink());
  bus.start();
  REQUIRE(until(10s, [&] { return got.good(ChannelId{0}) >= 41; }));
  bus.stop();
  const auto r = got.readings();
  const Duration took = r[40].measured - r[0].measured;
  CHECK(took >= 3950ms);
  CHECK(took <= 4080ms);
}

TEST_CASE("A second user of the serial port is refused with a clear word") {
  Peer peer(Peer::Serial{});
  const Site s = site(1, 0, 20ms);
  RealClock clock;
  Collector first_got, second_got;
  ModbusBus first(s, rtu_link(peer.device(), 200ms), {point(0, 1, 10)}, {}, clock, first_got.sink());
  ModbusBus second(s, rtu_link(peer.device(), 200ms), {point(0, 1, 10)}, {}, clock, second_got.sink());
  first.start();
  REQUIRE(until(3s, [&] { return first_got.good(ChannelId{0}) >= 1; }));
  second.start();
  CHECK(until(3s, [&] { return second.health().trouble.find("in use") != std::string::npos ||
                               second.health().trouble.find("busy") != std::string::npos; }));
  second.stop();
  first.stop();
  CHECK(second_got.good(ChannelId{0}) == 0);
}

TEST_CASE("Stopping during a poll to a silent peer takes less than the time-out and a second") {
  Peer peer(0, [](const Asked&, int) { return Act{.silent = true}; });
  const Site s = site(1, 0, 20ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 1s), {point(0, 1, 10)}, {}, clock, got.sink());
  bus.start();
  std::this_thread::sleep_for(300ms);
  const auto from = std::chrono::steady_clock::now();
  bus.stop();
  CHECK(std::chrono::steady_clock::now() - from < 2s);
}
