#include "rules/judge/limit.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

TEST_CASE("limit: band 31 to 48 psi with half a psi of deadband") {
  House h;
  Bench<LimitRule> rule{h, h.dock};
  const auto at = [&](double psi_now) {
    h.now += seconds(2);
    h.read(h.dock_air, psi_now);
    return rule.all();
  };
  CHECK(clear(at(40.0)[0]));
  CHECK(clear(at(40.0)[1]));
  CHECK(holds(at(31.0)[0]));     // the limit itself is inside the band
  CHECK(raises(at(30.999)[0]));
  CHECK(holds(at(31.499)[0]));
  CHECK(clear(at(31.5)[0]));
  CHECK(holds(at(48.0)[1]));
  CHECK(raises(at(48.001)[1]));
  CHECK(holds(at(47.501)[1]));
  CHECK(clear(at(47.5)[1]));
  const auto low = std::get<Raise>(at(13.6)[0]);
  CHECK(low.value == doctest::Approx(13.6));
  CHECK(low.limit == doctest::Approx(31));
  CHECK(low.unit == "psi");
  CHECK(low.on_delay == seconds(60));
}

TEST_CASE("limit: bad, stale or missing pressure cannot tell") {
  House h;
  Bench<LimitRule> rule{h, h.dock};
  CHECK(cannot(rule.all()[0]));
  h.read(h.dock_air, 10);
  CHECK(raises(rule.all()[0]));
  h.now += seconds(61);
  CHECK(std::get<CannotTell>(rule.all()[0]).why == Why::stale);
  h.bad(h.dock_air, Why::failed_low);
  CHECK(std::get<CannotTell>(rule.all()[0]).why == Why::failed_low);
  CHECK(cannot(rule.all()[1]));
}
