// Limits: NFPA 13 (1.5 psi in 24 h, new pipe) and NFPA 25 (3 psi in 2 h, existing pipe). Mann-Kendall:
// S and variance in closed form, Kendall 1975: var(S) = n (n - 1) (2 n + 5) / 18 without ties.
#include "rules/judge/leak.h"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "rules/judge/trend.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

// A closed pipe losing `per_day` psi in 24 h at 40 psi, for `for_`, one reading a minute.
void decay(House& h, double per_day, Duration for_, double from = 39.9) {
  const double p0 = from + in_psi(kStandardAtmosphere);
  const EngineTime start = h.now;
  const double k = per_day / 54.696 / 86400;
  int wobble = 0;
  while (h.now - start < for_) {
    h.now += minutes(1);
    const double noise = 0.004 * ((wobble++ * 7) % 11 - 5);
    h.read(h.dock_air, p0 * std::exp(-k * in_seconds(h.now - start)) - in_psi(kStandardAtmosphere) + noise);
  }
  h.twins[0].renew_leak(h.site, h.dock, h.now);
}

}  // namespace

TEST_CASE("leak: cannot tell before there is enough data, or when the feed holds the pressure") {
  House h;
  Bench<LeakRule> rule{h, h.dock};
  CHECK(cannot(rule.all()[0]));
  CHECK(cannot(rule.all()[1]));
  h.site.systems[0].air.regulated = true;
  decay(h, 0.0, hours(48));
  CHECK(cannot(rule.all()[0]));
}

TEST_CASE("leak: 1.5 psi in 24 h is not a leak, twice as much is (NFPA 13)") {
  House tight, leaky;
  decay(tight, 0.5, hours(48));
  Bench<LeakRule> fine{tight, tight.dock};
  REQUIRE(tight.twins[0].leak().observable);
  CHECK(clear(fine.all()[0]));
  decay(leaky, 3.0, hours(48));
  Bench<LeakRule> rule{leaky, leaky.dock};
  REQUIRE(leaky.twins[0].leak().observable);
  const auto v = rule.all()[0];
  REQUIRE(raises(v));
  CHECK(std::get<Raise>(v).value == doctest::Approx(3.0).epsilon(0.1));
  CHECK(std::get<Raise>(v).limit == doctest::Approx(1.5));
  CHECK_FALSE(std::get<Raise>(v).priority);
  rule.params.baseline = psi_per_day(2.0);   // known and accepted: twice as much counts
  CHECK_FALSE(raises(rule.all()[0]));
}

TEST_CASE("leak: high when low air is less than 8 h away, unfed") {
  House h;
  decay(h, 3.0, hours(48), 34.5);
  Bench<LeakRule> rule{h, h.dock};
  REQUIRE(raises(rule.all()[0]));
  h.now += seconds(60);
  h.read(h.dock_air, 28.6);      // switch at 28: 0.6 psi at 2.6 psi a day is 5 h and a half
  const auto v = std::get<Raise>(rule.all()[0]);
  CHECK(v.priority == Priority::high);
  CHECK(v.cause.starts_with("unfed, low air in about"));
}

TEST_CASE("trend: Mann-Kendall and Theil-Sen in closed form (Kendall 1975, Sen 1968)") {
  const std::vector<double> up{1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  CHECK(mann_kendall_z(up) == doctest::Approx((45 - 1) / std::sqrt(10.0 * 9 * 25 / 18)));
  CHECK(theil_sen_slope(up) == doctest::Approx(1));
  const std::vector<double> down(up.rbegin(), up.rend());
  CHECK(mann_kendall_z(down) == doctest::Approx(-mann_kendall_z(up)));
  const std::vector<double> flat(10, 3.0);
  CHECK(mann_kendall_z(flat) == 0);
  CHECK(theil_sen_slope(flat) == 0);
  const std::vector<double> tied{1, 1, 2, 2};    // S = 4, var = (4 3 13 - 2 (2 1 9)) / 18
  CHECK(mann_kendall_z(tied) == doctest::Approx(3 / std::sqrt((156.0 - 36.0) / 18)));
  const std::vector<double> outlier{1, 2, 3, 400, 5, 6, 7};
  CHECK(theil_sen_slope(outlier) == doctest::Approx(1));
  CHECK(theil_sen_slope(std::vector<double>{5.0}) == 0);
  CHECK(mann_kendall_z(std::vector<double>{1.0, 2.0}) == 0);
}
