#include <doctest/doctest.h>

#include <cmath>
#include <random>

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

TEST_CASE("a feed that nobody measured lowers nothing, but what may be true goes down") {
  OxygenLedger l;
  l.refill(psia(45), psia(50), std::nullopt);
  CHECK(l.mean() == doctest::Approx(0.2095));
  CHECK(l.lower() == doctest::Approx(0.2095 * 0.9));   // by a ninth of pure nitrogen
  l.refill(psia(45), psia(50), oxygen_percent(1));
  CHECK(l.mean() == doctest::Approx((0.2095 + 0.01 / 9) * 0.9));
}

TEST_CASE("a purge that begins anew knows air at most, and keeps what it knows from below") {
  OxygenLedger l;
  l.refill(psia(45), psia(50), oxygen_percent(1));
  const double low = l.lower();
  l.begin();
  CHECK(l.mean() == doctest::Approx(0.2095));
  CHECK(l.lower() == doctest::Approx(low));
  l.unseen();
  CHECK(l.lower() == 0.0);
  l.restart();   // filled with air: known from both sides
  CHECK(l.lower() == doctest::Approx(0.2095));
}

TEST_CASE("a hand reading at the far end and a rested one at the riser hold the mean between them") {
  OxygenLedger l;
  l.hand_reading(oxygen_percent(3), oxygen_percent(2));
  CHECK(l.mean() == doctest::Approx(0.03));
  CHECK(l.lower() == doctest::Approx(0.02));
}

namespace {

// Two halves of a pipe with as many moles each: the feed enters the near one, the vent draws from the far one.
struct TwoHalves {
  double near = 0.2095, far = 0.2095, moles = 1;   // oxygen shares; moles of each half
  double mean() const { return (near + far) / 2; }
  void out(double from_near, double from_far) {
    const double half = (from_near + from_far) / 2, moved = from_far - half;   // near to far, or back
    const double a = near * (moles - from_near) - moved * (moved > 0 ? near : far);
    const double b = far * (moles - from_far) + moved * (moved > 0 ? near : far);
    moles -= half;
    near = a / moles;
    far = b / moles;
  }
  void in(double fed, double oxygen) {
    const double mixed = (near * moles + fed * oxygen) / (moles + fed);
    far = (far * moles + fed / 2 * mixed) / (moles + fed / 2);
    near = mixed;
    moles += fed / 2;
  }
  void mix(double share) {
    const double m = mean();
    near += share * (m - near);
    far += share * (m - far);
  }
};

}  // namespace

TEST_CASE("wherever a pipe leaks, its mean oxygen lies between the two accounts") {
  constexpr std::uint64_t seed = 20261125;
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  const auto upto = [&](double most) { return most * static_cast<double>(random() % 10001) / 10000.0; };
  const OxygenFraction feed = oxygen_percent(0.6);
  double widest = 0;
  for (int n = 0; n < 200; ++n) {
    const double leak_near = upto(1), leak_a_day = upto(0.12);
    TwoHalves pipe;
    OxygenLedger l;
    const auto p = [&] { return psia(50 * pipe.moles); };
    const auto holds = [&] {
      CHECK(l.lower() <= pipe.mean() + 1e-9);
      CHECK(l.upper() >= pipe.mean() - 1e-9);
      widest = std::max(widest, l.upper() - l.lower());
    };
    l.rebase(p());
    for (int day = 0; day < 20; ++day) {
      const double lost = 2 * upto(leak_a_day);
      pipe.out(lost * leak_near, lost * (1 - leak_near));
      l.rest(p(), Tap::far_end);
      holds();
      const AbsolutePressure leaked = p();
      pipe.in(2 - 2 * pipe.moles, feed.fraction());
      l.refill(leaked, p(), feed);
      holds();
      const double vented = 2 * upto(0.3), y = pipe.far;
      pipe.out(0, vented);
      l.piece(vented / 2, 0, OxygenFraction::clamped(y), feed);
      const AbsolutePressure low = p();
      pipe.in(2 - 2 * pipe.moles, feed.fraction());
      l.refill(low, p(), feed);
      pipe.mix(upto(1));
      holds();
    }
  }
  MESSAGE("widest: " << 100 * widest << " % O2");
}
