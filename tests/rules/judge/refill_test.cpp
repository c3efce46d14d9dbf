#include "rules/judge/refill.h"

#include <doctest/doctest.h>

#include "rules/judge/box.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

// Falls for `every` minus two minutes, then fills by 4 psi.
void cycle(House& h, Duration every) {
  double p = 39;
  const Duration fall = every - minutes(2);
  const EngineTime end = h.now + every;
  while (h.now < end - minutes(2)) {
    h.now += seconds(10);
    p -= 4.0 * 10 / in_seconds(fall);
    h.read(h.dock_air, p);
  }
  while (h.now < end) {
    h.now += seconds(10);
    p += 4.0 / 12;
    h.read(h.dock_air, p);
  }
}

}  // namespace

TEST_CASE("refill: more than six a day, high above one an hour") {
  House h;
  Bench<RefillRule> rule{h, h.dock};
  for (int i = 0; i < 5; ++i) cycle(h, hours(3));
  CHECK(clear(rule.all()[0]));
  cycle(h, hours(2));
  CHECK(holds(rule.all()[0]));
  cycle(h, hours(2));
  auto v = rule.all()[0];
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).value == 7);
  CHECK_FALSE(std::get<Raise>(v).priority);
  for (int i = 0; i < 5; ++i) cycle(h, minutes(40));
  v = rule.all()[0];
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).priority == Priority::high);
  h.bad(h.dock_air, Why::no_value);
  CHECK(cannot(rule.all()[0]));
}

TEST_CASE("box: each part has its own alarm, with the words it came with") {
  House h;
  Bench<BoxRule> rule{h, PlaceId{}};
  for (const Verdict& v : rule.all()) CHECK(clear(v));
  h.box[static_cast<std::size_t>(BoxPart::messages)] = {false, h.now, "mail server does not answer"};
  CHECK(std::get<Raise>(rule.of(ClassId::messages_undelivered)).cause == "mail server does not answer");
  CHECK(clear(rule.of(ClassId::history_fault)));
  h.box[static_cast<std::size_t>(BoxPart::config)].well = false;
  CHECK(raises(rule.of(ClassId::config_rejected)));
}
