// The simulated room as a whole: random lives, the demo's site, the rarer parts of a site.
#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <random>

#include "config/load/load.h"
#include "drivers/decode.h"
#include "drivers/plant/devices.h"
#include "drivers/plant/encode.h"
#include "drivers/plant/room.h"
#include "plant_fixture.h"

using namespace riserkeep;
using plant_test::system_no;

namespace {
constexpr std::array kTroubles{
    "north-hall leak 40", "south-hall vent stuck",  "north-hall vent blocked 60", "south-hall gauge frozen",
    "east-nitrogen dead", "east-nitrogen impure 5", "east-nitrogen air",          "shared frozen",
    "relay_bus silent",   "unit 3 silent",          "south-hall sprinkler open",  "power cut"};

void stays_possible(const SimulatedRoom& room) {
  for (int i = 0; i < 2; ++i) {
    const Truth t = room.truth(system_no(i));
    REQUIRE(std::isfinite(t.pressure.si()));
    REQUIRE(t.pressure.si() > -1500.0);  // the barometer may rise above an empty pipe
    REQUIRE(in_psi(t.pressure) < 110.0);
    REQUIRE(t.worst_oxygen >= t.mean_oxygen);
    REQUIRE(t.worst_oxygen.fraction() <= 0.20946 + 1e-12);
    REQUIRE(t.oxygen.si() >= 0.0);
    REQUIRE(in_celsius(t.gas) > -80.0);
    REQUIRE(in_celsius(t.gas) < 120.0);
  }
}
}  // namespace

TEST_CASE("plant life: whatever is opened and broken, the room stays physically possible") {
  const auto b = plant_test::bench();
  const unsigned seed = 20260101;
  MESSAGE("seed " << seed);
  std::mt19937_64 dice(seed);
  for (int life = 0; life < 12; ++life) {
    SimulatedRoom room(b.site, default_scenario(b.site, dice()));
    for (int hour = 0; hour < 6; ++hour) {
      const auto parsed = parse_fault(b.site, kTroubles.at(dice() % kTroubles.size()));
      const Fault fault = std::get<Fault>(parsed);
      if (dice() % 2 == 0)
        room.inject(fault);
      else
        room.clear(fault);
      room.set_output(OutputId{static_cast<std::uint16_t>(dice() % b.site.outputs.size())}, dice() % 2 == 0);
      if (room.truth(system_no(1)).operated) room.reset_valve(system_no(1));
      room.advance(hours(1));
      stays_possible(room);
    }
  }
}

TEST_CASE("plant life: what the plant encodes, the bus decodes, in every type and word order") {
  for (const ValueType type :
       {ValueType::int16, ValueType::uint16, ValueType::int32, ValueType::uint32, ValueType::float32})
    for (const WordOrder order : {WordOrder::abcd, WordOrder::cdab, WordOrder::badc, WordOrder::dcba}) {
      RegisterPoint p;
      p.type = type;
      p.order = order;
      p.conversion.scale = 0.01;
      const auto words = plant::encode_words(p, 37.25);
      const std::span<const std::uint16_t> sent(words.data(), static_cast<std::size_t>(plant::words_of(type)));
      const Decoded got = decode_registers(sent, p, Signal::pressure);
      CAPTURE(static_cast<int>(type));
      CAPTURE(static_cast<int>(order));
      CHECK(got.quality == Quality::good);
      CHECK(got.ticks == 37250);
    }
  RegisterPoint loop;
  loop.conversion.loop = CurrentLoop{0.001, 0, 200};
  const auto words = plant::encode_words(loop, 37.25);
  CHECK(decode_registers(std::span(words).first(1), loop, Signal::pressure).ticks == 37250);
  const auto dead = plant::encode_words(loop, std::nullopt);
  CHECK(decode_registers(std::span(dead).first(1), loop, Signal::pressure).why == Why::failed_low);
}

TEST_CASE("plant life: the demo's room is served whole, and a blind timer purges its far ends first") {
  const std::string file = RISERKEEP_SOURCE_DIR "/config/examples/demo.yaml";
  const Loaded loaded = load_site_file(file, Purpose::rehearse);
  REQUIRE(loaded.description);
  const Site& site = loaded.description->site;
  const Scenario s = demo_scenario(site);
  CHECK(s.systems.at(1).leak == psi_per_day(4.0));
  SimulatedRoom room(site, s);
  plant::Devices devices(room, loaded.description->wiring, site);
  CHECK(devices.conflicts().empty());
  CHECK(devices.units() == std::vector<int>{1, 3, 4, 7});
  for (int quarter = 0; quarter < 4 * 24; ++quarter) {
    for (int i = 0; i < 4; ++i) {
      const System& sys = site[system_no(i)];
      const bool turn = (quarter / 4) % 4 == i && room.truth(system_no(i)).pressure > sys.air.cut_in - psi(1.2);
      room.set_output(sys.vent->output, turn);
    }
    room.advance(minutes(15));
  }
  CHECK(room.truth(system_no(1)).mean_oxygen.percent() < 6.0);                         // far end
  CHECK(room.truth(system_no(2)).mean_oxygen.percent() < 6.0);                         // far end
  CHECK(room.truth(system_no(0)).mean_oxygen > room.truth(system_no(2)).mean_oxygen);  // riser
  for (int i = 0; i < 4; ++i) CHECK_FALSE(room.truth(system_no(i)).operated);
}

TEST_CASE("plant life: a bench plant of litres steps finely enough for its refills") {
  const std::string file = RISERKEEP_SOURCE_DIR "/config/examples/demo-live.yaml";
  const Loaded loaded = load_site_file(file, Purpose::rehearse);
  REQUIRE(loaded.description);
  const Site& site = loaded.description->site;
  SimulatedRoom room(site, demo_scenario(site));
  room.set_output(site[system_no(0)].vent->output, true);
  double highest = 0;
  for (int i = 0; i < 3000; ++i) {
    room.advance(milliseconds(200));
    const Truth t = room.truth(system_no(0));
    if (t.refills > 0) highest = std::max(highest, in_psi(t.pressure - t.cut_out));
  }
  CHECK(room.truth(system_no(0)).refills > 0);
  CHECK(highest < 0.5);
}

TEST_CASE("plant life: a regulator holds the pressure through a far-end sweep") {
  auto b = plant_test::bench();
  b.site.systems[1].air.regulated = true;
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.set_output(b.vent[1], true);
  for (int i = 0; i < 24; ++i) {
    room.advance(minutes(10));
    CHECK(in_psi(room.truth(system_no(1)).pressure) == doctest::Approx(39.9).epsilon(0.01));
  }
  CHECK(room.truth(system_no(1)).refilling);
  CHECK(room.truth(system_no(1)).riser_oxygen < room.truth(system_no(1)).far_oxygen);
}

TEST_CASE("plant life: a supply valve without current is open and with it shut") {
  auto b = plant_test::bench();
  Output valve;
  valve.id = "supply valve";
  valve.kind = OutputKind::supply_valve;
  valve.place = SupplyId{0};
  const OutputId id{static_cast<std::uint16_t>(b.site.outputs.size())};
  b.site.outputs.push_back(valve);
  b.wiring.coils.push_back({id, LinkId{0}, 1, 9, "relays 10", std::nullopt});
  Scenario s = plant_test::still(b.site);
  s.systems[0].initial_fill = 0;
  SimulatedRoom room(b.site, s);
  plant::Devices devices(room, b.wiring, b.site);
  CHECK(room.output(id));
  using Bytes = std::vector<std::uint8_t>;
  CHECK(devices.answer(1, Bytes{1, 0, 9, 0, 1}, EngineTime{}) == Bytes{1, 1, 0});
  CHECK(devices.answer(1, Bytes{5, 0, 9, 0xff, 0}, EngineTime{seconds(1)}).has_value());
  CHECK_FALSE(room.output(id));
  room.advance(minutes(1));
  CHECK(room.truth(system_no(0)).fed.si() == 0.0);
  devices.drop_idle_relays(EngineTime{seconds(21)});
  CHECK(room.output(id));
  room.advance(minutes(1));
  CHECK(room.truth(system_no(0)).fed.si() > 1.0);
}

TEST_CASE("plant life: vents into the room lower its oxygen, half an air change an hour brings it back") {
  auto b = plant_test::bench();
  Channel monitor;
  monitor.place = RoomId{0};
  monitor.signal = Signal::room_oxygen;
  const ChannelId id{static_cast<std::uint16_t>(b.site.channels.size())};
  b.site.channels.push_back(monitor);
  b.site.rooms[0].vents_into_room = true;
  b.site.rooms[0].volume = Volume::from_si(10);
  Scenario s = plant_test::still(b.site);
  for (auto& t : s.systems) t.initial_oxygen = OxygenFraction{};
  SimulatedRoom room(b.site, s);
  CHECK(*room.signal(id) == doctest::Approx(20.946).epsilon(0.01));
  room.set_output(b.vent[0], true);
  room.advance(minutes(30));
  const double low = *room.signal(id);
  CHECK(low < 19.5);
  room.set_output(b.vent[0], false);
  room.advance(hours(2));  // one e-folding
  CHECK(20.946 - *room.signal(id) == doctest::Approx((20.946 - low) * std::exp(-1.0)).epsilon(0.1));
}
