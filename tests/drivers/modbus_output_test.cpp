// Vents on a relay unit of our own: read-back, off-deadline, start and exit, lost answers.
#include <doctest/doctest.h>

#include <algorithm>

#include "bench.h"
#include "drivers/modbus/bus.h"
#include "peer.h"

using namespace riserkeep;
using namespace bench;
using namespace std::chrono_literals;

namespace {

const OutputId kFirst{0}, kSecond{1};

bool is_on(Peer& peer, int at, int unit = 3) {
  return peer.with([&](Memory& m) { return m.coils[{unit, at}]; });
}
void put(Peer& peer, int at, bool on, int unit = 3) {
  peer.with([&](Memory& m) { return m.coils[{unit, at}] = on; });
}
long opens(const Peer& peer) {
  const auto asked = peer.asked();
  return std::ranges::count_if(asked, [](const Asked& q) { return q.function == 5 && q.count == 0xFF00; });
}
bool found_shut(const Collector& got, OutputId id) { return got.saw(id, OutputOutcome::found, OutputState::shut); }

}  // namespace

TEST_CASE("A vent found open at the start is told, closed and read back before anything else") {
  Peer peer(0);
  put(peer, 0, true);
  const Site s = site(0, 2, 50ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {}, {coil(0, 3, 0), coil(1, 3, 1)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return found_shut(got, kFirst) && found_shut(got, kSecond); }));
  CHECK(got.saw(kFirst, OutputOutcome::found, OutputState::open));
  CHECK_FALSE(is_on(peer, 0));
  bus.stop();
}

TEST_CASE("Open, confirm, renew, and close at the end of the lease although nobody calls") {
  Peer peer(0);
  const Site s = site(1, 1, 50ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {point(0, 3, 5)}, {coil(0, 3, 0)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return found_shut(got, kFirst); }));
  bus.order(open_order(kFirst, 1, clock.now(), 600ms));
  REQUIRE(until(1s, [&] { return got.saw(kFirst, OutputOutcome::confirmed, OutputState::open); }));
  CHECK(is_on(peer, 0));
  OutputOrder renewal = open_order(kFirst, 2, clock.now(), 900ms);
  renewal.renewal = true;
  bus.order(renewal);
  const auto from = std::chrono::steady_clock::now();
  REQUIRE(until(3s, [&] { return !is_on(peer, 0); }));
  const auto took = std::chrono::steady_clock::now() - from;
  CHECK(took > 700ms);
  CHECK(took < 1100ms);
  CHECK(until(1s, [&] { return got.saw(kFirst, OutputOutcome::expired, OutputState::shut); }));
  CHECK(opens(peer) == 1);
  bus.stop();
}

TEST_CASE("Stopping closes an open vent first") {
  Peer peer(0);
  const Site s = site(0, 1, 50ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {}, {coil(0, 3, 0)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return found_shut(got, kFirst); }));
  bus.order(open_order(kFirst, 1, clock.now(), 60s));
  REQUIRE(until(1s, [&] { return is_on(peer, 0); }));
  bus.stop();
  CHECK_FALSE(is_on(peer, 0));
}

TEST_CASE("A lost answer to an opening: read back on a new connection, sent once") {
  std::atomic<bool> lose{false};
  Peer peer(0, [&](const Asked& q, int) { return Act{.delay = q.function == 5 && lose.exchange(false) ? 400ms : 0ms}; });
  const Site s = site(0, 1, 50ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 200ms), {}, {coil(0, 3, 0)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return found_shut(got, kFirst); }));
  lose = true;
  bus.order(open_order(kFirst, 1, clock.now(), 30s));
  CHECK(until(3s, [&] { return !got.observed().empty() && got.observed().back().order == OrderNo{1}; }));
  bus.stop();
  CHECK(opens(peer) == 1);
  CHECK_FALSE(is_on(peer, 0));
}

TEST_CASE("A close passes an opening and any poll that wait") {
  Peer peer(0, [](const Asked& q, int) { return Act{.delay = q.function == 4 ? 30ms : 0ms}; });
  const Site s = site(8, 2, 10ms);   // 8 separate reads of 30 ms: the bus is always behind
  std::vector<RegisterPoint> points;
  for (std::uint16_t i = 0; i < 8; ++i) points.push_back(point(i, 1, 10 * (i + 1)));
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), points, {coil(0, 3, 0), coil(1, 3, 1)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return found_shut(got, kFirst) && found_shut(got, kSecond); }));
  bus.order(open_order(kFirst, 1, clock.now(), 30s));
  REQUIRE(until(2s, [&] { return is_on(peer, 0); }));
  const std::size_t before = peer.asked().size();
  bus.order(open_order(kSecond, 2, clock.now(), 30s));
  bus.order(close_order(kFirst, 3, clock.now()));
  REQUIRE(until(2s, [&] { return is_on(peer, 1); }));
  const auto asked = peer.asked();
  const auto from = asked.begin() + static_cast<std::ptrdiff_t>(before);
  const auto closed = std::find_if(from, asked.end(), [](const Asked& q) { return q.function == 5 && q.count == 0 && q.address == 0; });
  const auto opened = std::find_if(from, asked.end(), [](const Asked& q) { return q.function == 5 && q.count != 0; });
  REQUIRE(closed != asked.end());
  CHECK(closed - from <= 3);         // the call under way, and perhaps one of the opening
  CHECK(((closed < opened) || (opened - from <= 1)));
  bus.stop();
}

TEST_CASE("A stuck relay is told as refused and tried again once a second, not in a loop") {
  Peer peer(0);
  put(peer, 0, true);
  peer.with([](Memory& m) { return m.coils_stuck = true; });
  const Site s = site(0, 1, 50ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {}, {coil(0, 3, 0)}, clock, got.sink());
  bus.start();
  REQUIRE(until(3s, [&] { return got.saw(kFirst, OutputOutcome::found, OutputState::open); }));
  std::this_thread::sleep_for(2s);
  CHECK(peer.asked().size() <= 12);
  bus.stop();
  CHECK_FALSE(found_shut(got, kFirst));
}

TEST_CASE("The device's own time-out is written at every connect") {
  std::atomic<bool> hang_up{false};
  Peer peer(0, [&](const Asked& q, int) { return Act{.hang_up = q.function == 4 && hang_up.exchange(false)}; });
  const Site s = site(1, 1, 30ms);
  CoilOutput c = coil(0, 3, 0);
  c.device_time_out = DeviceTimeOut{.register_address = 99, .after = seconds(20), .counts_per_second = 10};
  RealClock clock;
  Collector got;
  ModbusBus bus(s, tcp_link(peer.port(), 300ms), {point(0, 3, 5)}, {c}, clock, got.sink());
  bus.start();
  const auto value = [&] { return peer.with([](Memory& m) { return m.written[{3, 99}]; }); };
  REQUIRE(until(3s, [&] { return value() == 200; }));
  peer.with([](Memory& m) { return m.written[{3, 99}] = 0; });
  hang_up = true;
  CHECK(until(3s, [&] { return value() == 200; }));
  bus.stop();
}

TEST_CASE("RTU: vents open and close while late answers keep breaking the step") {
  Peer peer(Peer::Serial{}, [](const Asked&, int n) { return n % 11 == 7 ? Act{.delay = 150ms} : Act{}; });
  const Site s = site(2, 1, 20ms);
  RealClock clock;
  Collector got;
  ModbusBus bus(s, rtu_link(peer.device(), 100ms), {point(0, 1, 10), point(1, 3, 20)}, {coil(0, 3, 0)}, clock, got.sink());
  bus.start();
  REQUIRE(until(10s, [&] { return found_shut(got, kFirst); }));
  int number = 0;
  for (int round = 0; round < 10; ++round) {
    bus.order(open_order(kFirst, ++number, clock.now(), 5s));
    const auto answered = [&] {
      return std::ranges::any_of(got.observed(), [&](const OutputObserved& o) {
        return o.order == OrderNo{static_cast<std::uint64_t>(number)} && o.state != OutputState::unknown;
      });
    };
    CHECK(until(6s, answered));
    const auto last = got.observed().back();
    if (last.outcome == OutputOutcome::confirmed) CHECK(is_on(peer, 0));
    bus.order(close_order(kFirst, ++number, clock.now()));
    CHECK(until(6s, answered));
    CHECK_FALSE(is_on(peer, 0));
  }
  bus.stop();
  CHECK(opens(peer) <= 10);
}
