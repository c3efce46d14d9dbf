#include "drivers/plant/faults.h"

#include <doctest/doctest.h>

#include "drivers/plant/relays.h"
#include "drivers/plant/room.h"
#include "plant_fixture.h"

using namespace riserkeep;
using plant_test::system_no;

namespace {
Fault parsed(const Site& site, std::string_view text) {
  const auto out = parse_fault(site, text);
  const auto* f = std::get_if<Fault>(&out);
  REQUIRE_MESSAGE(f, std::get<std::string>(out));
  return *f;
}
std::string refused(const Site& site, std::string_view text) {
  const auto out = parse_fault(site, text);
  const auto* why = std::get_if<std::string>(&out);
  REQUIRE_MESSAGE(why, text);
  return *why;
}
bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }
}  // namespace

TEST_CASE("plant faults: every phrase is understood and reads back") {
  const auto b = plant_test::bench();
  for (const char* text : {"north-hall leak 12",
                           "south-hall leak 0.25",
                           "north-hall vent stuck",
                           "north-hall vent blocked 70",
                           "south-hall gauge frozen",
                           "south-hall gauge dead",
                           "south-hall gauge offset -3",
                           "south-hall sprinkler open",
                           "north-hall waterflow",
                           "north-hall fire",
                           "east-nitrogen dead",
                           "east-nitrogen impure 4",
                           "east-nitrogen air",
                           "shared dead",
                           "shared frozen",
                           "shared offset 1.5",
                           "relay_bus silent",
                           "east-riser-room lockout",
                           "unit 3 silent",
                           "power cut"}) {
    CAPTURE(text);
    const Fault f = parsed(b.site, text);
    CHECK(fault_text(b.site, f) == text);
  }
  CHECK(parsed(b.site, "  north-hall\tvent   blocked ").amount == 100);
  CHECK(has(fault_help(), "impure"));
}

TEST_CASE("plant faults: bad words are named, with what could stand there") {
  const auto b = plant_test::bench();
  CHECK(has(refused(b.site, "north-hal leak 12"), "'north-hal' is no place"));
  CHECK(has(refused(b.site, "north-hal leak 12"), "north-hall, south-hall, east-nitrogen, shared"));
  CHECK(has(refused(b.site, "north-hall leek 12"), "'leek'"));
  CHECK(has(refused(b.site, "north-hall leek 12"), "'leak'"));
  CHECK(has(refused(b.site, "north-hall leak"), "needs a number"));
  CHECK(has(refused(b.site, "north-hall leak twelve"), "'twelve' is not a number"));
  CHECK(has(refused(b.site, "north-hall leak nan"), "'nan' is not a number"));
  CHECK(has(refused(b.site, "north-hall leak -1"), "out of range"));
  CHECK(has(refused(b.site, "north-hall leak 12 13"), "'13' is one word too many"));
  CHECK(has(refused(b.site, "north-hall vent stuck 3"), "'3' is one word too many"));
  CHECK(has(refused(b.site, "shared leak 12"), "analyser"));
  CHECK(has(refused(b.site, "unit 3.5 silent"), "0 to 255"));
  CHECK(has(refused(b.site, "unit 999 silent"), "0 to 255"));
  CHECK(has(refused(b.site, "north-hall"), "it can be"));
  CHECK(has(refused(b.site, "   "), "no fault given"));
}

TEST_CASE("plant faults: a stuck vent opens but does not shut until it is mended") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.inject(parsed(b.site, "north-hall vent stuck"));
  room.advance(minutes(1));
  CHECK_FALSE(room.truth(system_no(0)).vent_open);
  room.set_output(b.vent[0], true);
  room.advance(minutes(1));
  room.set_output(b.vent[0], false);
  room.advance(minutes(1));
  CHECK_FALSE(room.output(b.vent[0]));
  CHECK(room.truth(system_no(0)).vent_open);
  CHECK(*room.signal(b.vent_contact[0]) == 1.0);
  room.clear(parsed(b.site, "north-hall vent stuck"));
  room.advance(minutes(1));
  CHECK_FALSE(room.truth(system_no(0)).vent_open);
}

TEST_CASE("plant faults: a blocked vent passes the share that is left") {
  const auto b = plant_test::bench();
  SimulatedRoom clean(b.site, plant_test::still(b.site)), plugged(b.site, plant_test::still(b.site));
  plugged.inject(parsed(b.site, "north-hall vent blocked 70"));
  for (SimulatedRoom* r : {&clean, &plugged}) r->set_output(b.vent[0], true), r->advance(seconds(60));
  CHECK(plugged.truth(system_no(0)).vented / clean.truth(system_no(0)).vented == doctest::Approx(0.3).epsilon(0.01));
}

TEST_CASE("plant faults: instruments freeze, die and come back") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.inject(parsed(b.site, "north-hall gauge frozen"));
  room.inject(parsed(b.site, "south-hall gauge offset 3"));
  room.inject(parsed(b.site, "shared dead"));
  room.set_output(b.vent[0], true);
  room.advance(minutes(20));
  CHECK(*room.signal(b.pressure[0]) == doctest::Approx(40.0));
  CHECK(*room.signal(b.pressure[1]) == doctest::Approx(43.0));
  CHECK_FALSE(room.signal(b.oxygen));
  room.clear_all();
  CHECK(*room.signal(b.pressure[0]) < 39.0);
  CHECK(*room.signal(b.pressure[1]) == doctest::Approx(40.0));
  CHECK(room.signal(b.oxygen).has_value());
}

TEST_CASE("plant faults: dead and impure supplies, leaks on top") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[0].initial_fill = 0;
  SimulatedRoom room(b.site, s);
  room.inject(parsed(b.site, "east-nitrogen dead"));
  room.inject(parsed(b.site, "south-hall leak 12"));
  room.advance(minutes(30));
  CHECK(room.truth(system_no(0)).fed.si() == 0.0);
  CHECK(in_psi_per_day(room.truth(system_no(1)).leak) == doctest::Approx(12.0));
  room.clear(parsed(b.site, "east-nitrogen dead"));
  room.inject(parsed(b.site, "east-nitrogen impure 4"));
  room.advance(minutes(5));
  const Truth t = room.truth(system_no(0));
  CHECK(t.fed_oxygen / t.fed == doctest::Approx(0.04));
  CHECK(*room.signal(b.supply_oxygen) == doctest::Approx(4.0).epsilon(0.03));
}

TEST_CASE("plant faults: a power cut shuts the vents, stops the feed and silences everything") {
  const auto b = plant_test::bench();
  Scenario s = plant_test::still(b.site);
  s.systems[1].initial_fill = 0;
  SimulatedRoom room(b.site, s);
  room.set_output(b.vent[0], true);
  room.advance(minutes(1));
  room.inject(parsed(b.site, "power cut"));
  const double fed = room.truth(system_no(1)).fed.si();
  room.set_output(b.vent[0], true);
  room.advance(minutes(5));
  CHECK_FALSE(room.truth(system_no(0)).vent_open);
  CHECK_FALSE(room.signal(b.pressure[0]));
  CHECK(room.unit_silent(1));
  CHECK(room.truth(system_no(1)).fed.si() == fed);
  CHECK(room.clear(parsed(b.site, "power cut")));
  CHECK_FALSE(room.clear(parsed(b.site, "power cut")));
  room.advance(minutes(1));
  CHECK_FALSE(room.truth(system_no(0)).vent_open);
  CHECK(room.signal(b.pressure[0]).has_value());
}

TEST_CASE("plant faults: a silent link drops its outputs after the device time-out") {
  const auto b = plant_test::bench();
  SimulatedRoom room(b.site, plant_test::still(b.site));
  room.set_output(b.vent[0], true);
  room.advance(minutes(1));
  room.inject(parsed(b.site, "relay_bus silent"));
  CHECK_FALSE(room.signal(b.pressure[0]));
  room.advance(seconds(19));
  CHECK(room.output(b.vent[0]));
  room.advance(seconds(2));
  CHECK_FALSE(room.output(b.vent[0]));
}

TEST_CASE("plant faults: the relay watchdog drops once for each silence") {
  plant::RelayWatchdog dog(seconds(20));
  dog.heard(EngineTime{seconds(100)});
  CHECK_FALSE(dog.drops(EngineTime{milliseconds(119'999)}));
  CHECK(dog.drops(EngineTime{seconds(120)}));
  CHECK_FALSE(dog.drops(EngineTime{seconds(500)}));
  dog.heard(EngineTime{seconds(501)});
  CHECK(dog.drops(EngineTime{seconds(521)}));
  dog.set(std::nullopt);
  dog.heard(EngineTime{seconds(600)});
  CHECK_FALSE(dog.drops(EngineTime{hours(9)}));
}
