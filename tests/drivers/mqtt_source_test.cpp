#include "drivers/mqtt/source.h"

#include <doctest/doctest.h>

#include <random>

#include "drivers/mqtt/output.h"

using namespace riserkeep;

namespace {

const EngineTime kNow{hours(5)};
constexpr std::int64_t kWallNow = 1'798'416'000'000;   // 2026-12-28T00:00:00Z

std::optional<EngineTime> to_engine(WallTime w) { return kNow + Duration{w.ms - kWallNow}; }

TopicPoint point(std::string value, std::string time = "") {
  TopicPoint p;
  p.topic = "east/room/oxygen";
  p.value_pointer = std::move(value);
  p.time_pointer = std::move(time);
  return p;
}

Reading read(const TopicPoint& p, std::string payload, bool retained = false, Signal s = Signal::room_oxygen) {
  return read_payload(p, s, {p.topic, std::move(payload), retained, kNow}, to_engine);
}

}  // namespace

TEST_CASE("Plain numbers and JSON pointers (RFC 6901) give the value, stamped on arrival") {
  CHECK(read(point(""), " 20.9\n") == Reading{ChannelId{0}, kNow, 2090, Quality::good, Why::none});
  CHECK(read(point("/room/o2"), R"({"room":{"o2":20.95}})").ticks == 2095);
  CHECK(read(point("/0"), "[20.5]").ticks == 2050);
  CHECK(read(point("/a~1b"), R"({"a/b":"20.5"})").ticks == 2050);
  CHECK(read(point("/on"), R"({"on":true})", false, Signal::lockout).ticks == 1);
  CHECK(read(point(""), "off", false, Signal::lockout).ticks == 0);
}

TEST_CASE("The payload's own time counts, as RFC 3339 or as Unix seconds") {
  const TopicPoint p = point("/v", "/t");
  CHECK(read(p, R"({"v":20,"t":"2026-12-27T23:59:00Z"})").measured == kNow - minutes(1));
  CHECK(read(p, R"({"v":20,"t":1798415990.5})").measured == kNow - milliseconds(9500));
  CHECK(read(p, R"({"v":20,"t":"2026-12-28T00:00:03Z"})").measured == kNow);   // a little ahead: now
}

TEST_CASE("A retained message without a usable time of its own is bad, whatever it says") {
  CHECK(read(point(""), "20.9", true) == Reading{ChannelId{0}, kNow, 2090, Quality::bad, Why::retained});
  const TopicPoint p = point("/v", "/t");
  CHECK(read(p, R"({"v":20})", true).why == Why::retained);
  CHECK(read(p, R"({"v":20,"t":"yesterday"})", true).why == Why::retained);
  CHECK(read(p, R"({"v":20,"t":"2026-12-29T00:00:00Z"})", true).why == Why::retained);   // a day ahead
  const Reading timed = read(p, R"({"v":20,"t":"2026-12-27T23:00:00Z"})", true);
  CHECK(timed.why == Why::none);
  CHECK(timed.measured == kNow - hours(1));   // old, and known to be: staleness judges it
  const auto no_clock = [](WallTime) -> std::optional<EngineTime> { return std::nullopt; };
  CHECK(read_payload(p, Signal::room_oxygen, {p.topic, R"({"v":20,"t":"2026-12-27T23:00:00Z"})", true, kNow}, no_clock).why ==
        Why::retained);
}

TEST_CASE("What cannot be read is no value, not zero") {
  for (const char* payload : {"", "abc", "20.9 %", "nan", "inf", "1e999", "{", "null", "0x10", "20,9"}) {
    CAPTURE(payload);
    const Reading r = read(point(""), payload);
    CHECK_FALSE(r.ticks.has_value());
    CHECK(r.why == Why::no_value);
  }
  CHECK(read(point("/v"), R"({"v":null})").why == Why::no_value);
  CHECK(read(point("/v"), R"({"w":1})").why == Why::no_value);
  CHECK(read(point("/v/x"), R"({"v":1})").why == Why::no_value);
  CHECK(read(point("v"), R"({"v":1})").why == Why::no_value);   // not a pointer
  CHECK(read(point(""), std::string(70'000, '1')).why == Why::no_value);
  CHECK(read(point("/0"), std::string(60'000, '[')).why == Why::no_value);
}

TEST_CASE("Any bytes are survived") {
  const unsigned seed = std::random_device{}();
  CAPTURE(seed);
  std::mt19937 random(seed);
  const TopicPoint p = point("/v", "/t");
  for (int i = 0; i < 20'000; ++i) {
    std::string payload = R"({"v":20.9,"t":"2026-12-27T23:59:00Z"})";
    for (int k = 0; k < 3; ++k) payload[random() % payload.size()] = static_cast<char>(random());
    payload.resize(random() % payload.size());
    const Reading r = read(p, payload, i % 2 == 0);
    REQUIRE((r.ticks.has_value() || r.quality == Quality::bad));
  }
}

TEST_CASE("Offline: the newest per retained topic, the newest events in order, and a count of what went") {
  OutgoingQueue queue(100);
  for (int i = 0; i < 24 * 360; ++i) {   // a day of states at 10 s, and an event with each
    queue.push({"p/systems/dock", std::to_string(i), true, 1});
    queue.push({"p/events", std::to_string(i), false, 1});
  }
  CHECK(queue.waiting() == 101);
  CHECK(queue.dropped() == 24 * 360 - 100);
  CHECK(queue.pop()->payload == "8639");
  for (int i = 8540; i < 8640; ++i) REQUIRE(queue.pop()->payload == std::to_string(i));
  CHECK_FALSE(queue.pop().has_value());
  queue.say_retained_again();
  CHECK(queue.pop()->payload == "8639");
}

TEST_CASE("A message that could not be handed over comes again, unless a newer state replaced it") {
  OutgoingQueue queue;
  queue.push({"p/box", "a", true, 1});
  const auto taken = queue.pop();
  queue.push({"p/box", "b", true, 1});
  queue.put_back(*taken);
  CHECK(queue.waiting() == 1);
  CHECK(queue.pop()->payload == "b");
  queue.push({"p/events", "1", false, 1});
  queue.push({"p/events", "2", false, 1});
  queue.put_back(*queue.pop());
  CHECK(queue.pop()->payload == "1");
}
