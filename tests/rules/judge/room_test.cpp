// Oxygen limits: 29 CFR 1910.146(b), "below 19.5 percent or above 23.5 percent": the limits themselves are
// acceptable. Valve enclosure: NFPA 25, at least 40 F (4.44 C).
#include "rules/judge/room.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

TEST_CASE("room: oxygen below 19.5 or above 23.5 %, not at it (29 CFR 1910.146)") {
  House h;
  Bench<RoomRule> rule{h, RoomId{0}};
  const auto at = [&](double percent) {
    h.now += seconds(10);
    h.read(h.room_o2, percent);
    return rule.of(ClassId::room_oxygen);
  };
  CHECK(clear(at(20.9)));
  CHECK_FALSE(raises(at(19.5)));
  CHECK(raises(at(19.49)));
  CHECK(holds(at(19.5)));
  CHECK(holds(at(19.69)));
  CHECK(clear(at(19.75)));
  CHECK_FALSE(raises(at(23.5)));
  CHECK(raises(at(23.51)));
  CHECK(holds(at(23.4)));
  h.bad(h.room_o2, Why::no_value);
  CHECK(cannot(rule.of(ClassId::room_oxygen)));
}

TEST_CASE("room: cold below 40.0 F, a word of warning below 45 F (NFPA 25)") {
  House h;
  Bench<RoomRule> rule{h, RoomId{0}};
  const auto at = [&](double celsius_now) {
    h.now += seconds(10);
    h.read(h.room_temp, celsius_now);
    return rule.of(ClassId::room_cold);
  };
  CHECK(clear(at(10)));
  CHECK(std::get<Raise>(at(7.0)).priority == Priority::medium);
  CHECK(std::get<Raise>(at(4.45)).priority == Priority::medium);
  CHECK(std::get<Raise>(at(4.44)).priority == Priority::high);   // 39.99 F
  CHECK(std::get<Raise>(at(-2)).value == doctest::Approx(28.4));
  CHECK(holds(at(7.5)));
  CHECK(clear(at(8.3)));
  h.now += minutes(5);
  CHECK(cannot(rule.of(ClassId::room_cold)));
}

TEST_CASE("room: without a monitor there is nothing to alarm") {
  House h;
  h.site.rooms[0].oxygen.reset();
  h.site.rooms[0].temperature.reset();
  Bench<RoomRule> rule{h, RoomId{0}};
  for (const Verdict& v : rule.all()) CHECK(clear(v));
}
