#include <doctest/doctest.h>

#include <cmath>

#include "rules/archive.h"
#include "rules/estimators/ledger.h"
#include "rules/units.h"

using namespace riserkeep;

TEST_CASE("a swing of perfectly mixed gas follows the pressure swing formula") {
  // Pressure swing, y1 = C0 + (y0 - C0) PL / PH (CCPS / NFPA 69 annex): 25 to 40 psi gauge, pure feed,
  // published factor 0.725757.
  OxygenLedger l;
  const double high = 54.6959, low = 39.6959, feed = 0.0;
  for (int swing = 0; swing < 5; ++swing) {
    const double x = l.mean();
    l.piece(1 - low / high, 0, OxygenFraction::clamped(x), OxygenFraction::clamped(feed));
    l.refill(psia(low), psia(high), OxygenFraction::clamped(feed));
  }
  CHECK(l.mean() == doctest::Approx(0.2095 * std::pow(0.725757, 5)).epsilon(1e-5));
}

TEST_CASE("a hand computed venting gives mean, credit and bound") {
  OxygenLedger l;
  l.hand_reading(oxygen_percent(10));
  // 10 % of the content leaves at 8 % O2: x = (0.10 - 0.1 * 0.08) / 0.9.
  l.piece(0.1, 0, oxygen_percent(8), oxygen_percent(1));
  CHECK(l.mean() == doctest::Approx(0.092 / 0.9));
  // Refill by one ninth with 1 %: x = (x + 0.01 / 9) / (1 + 1 / 9) = 0.092 + 0.001.
  l.refill(psia(45), psia(50), oxygen_percent(1));
  CHECK(l.mean() == doctest::Approx(0.093));
  CHECK(l.contents_vented() == doctest::Approx(0.1));
  // sd: 1 % of the credit 0.1 * 0.07, and 0.05 % O2 per content on 0.1 contents.
  const double sd = std::hypot(0.01 * 0.007, 0.0005 * 0.1);
  CHECK(l.sd() == doctest::Approx(sd));
  CHECK(l.upper() == doctest::Approx(0.093 + 2 * sd));
}

TEST_CASE("gas that nobody measured earns no credit") {
  OxygenLedger l;
  l.piece(0.2, 0, std::nullopt, oxygen_percent(1));
  CHECK(l.mean() == doctest::Approx(0.2095));   // cannot exceed air
  CHECK(l.contents_vented() == 0.0);
}

TEST_CASE("the daily swing of pressure is counted as a leak once") {
  OxygenLedger l;
  for (int i = 0; i < 60; ++i) {
    l.piece(0.1, 0, OxygenFraction::clamped(l.mean()), oxygen_percent(1));
    l.refill(psia(45), psia(50), oxygen_percent(1));
  }
  l.rebase(psia(50));
  l.rest(psia(49), Tap::far_end);
  const double first = l.mean();
  for (int day = 0; day < 5; ++day) {
    l.rest(psia(50), Tap::far_end);
    l.rest(psia(49), Tap::far_end);
  }
  CHECK(l.mean() == doctest::Approx(first));
  l.rest(psia(48), Tap::far_end);
  CHECK(l.mean() > first);
}

TEST_CASE("an operation makes the ledger air again and a hand reading starts it anew") {
  OxygenLedger l;
  l.piece(0.5, 0.5, oxygen_percent(15), oxygen_percent(1));
  CHECK(l.mean() < 0.2);
  l.restart();
  CHECK(l.mean() == doctest::Approx(0.2095));
  l.take_over();
  l.hand_reading(oxygen_percent(3));
  CHECK(l.mean() == doctest::Approx(0.03));
  CHECK(l.sd() == 0.0);
  CHECK_FALSE(l.start_unknown());
}
