#include "rules/estimators/twin.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "rules/archive.h"
#include "rules/units.h"

using namespace riserkeep;

namespace {

constexpr EngineTime kStart{hours(1)};
constexpr ChannelId kPressure{0}, kTemperature{1};
constexpr SystemId kDock{0};

Site one_system() {
  Site s;
  s.id = "warehouse";
  s.rooms.push_back({.id = "riser-room", .name = "Riser room", .volume = {}, .vents_into_room = false, .oxygen = {}, .temperature = {}, .lockout = {}, .barometer = {}});
  Channel c;
  c.place = kDock;
  s.channels = {c, c};
  s.channels[1].signal = Signal::temperature;
  System dock;
  dock.id = "loading-dock";
  dock.pressure = kPressure;
  dock.temperature = kTemperature;
  dock.volume = gallons(500);
  s.systems.push_back(dock);
  return s;
}

// A week of one leaking pipe: readings every 10 s, refills at 35 psi, ventings, gaps, bad readings.
class Week {
 public:
  explicit Week(std::uint64_t seed) : g_(seed) {}

  void step(const Site& site, Twin& twin, ChannelTable& channels, bool renew = true) {
    const EngineTime now = kStart + i_ * seconds(10);
    const double hour = static_cast<double>(i_) / 360.0;
    celsius_ = 20.0 + 3.0 * std::sin(2.0 * std::numbers::pi * hour / 24.0);
    amount_ *= std::exp(-(vent_ ? 200.0 : 4.0) / 54.7 / 8640.0);
    const double gauge = amount_ * (celsius_ + 273.15) / 293.15 - 14.696;
    if (gauge < 35.0) filling_ = true;
    if (gauge > 40.0) filling_ = false;
    if (filling_) amount_ += 0.15;
    if (i_ % 5000 == 3000 || i_ % 5000 == 3060) twin.vent_moved(vent_ = !vent_, now);
    if (i_ % 9000 == 8000) twin.resumed(now);
    if (i_ % 7000 < 6950) feed(site, twin, channels, now, gauge);
    if (renew && i_ % 720 == 0) twin.renew_leak(site, kDock, now);
    ++i_;
  }

 private:
  void feed(const Site& site, Twin& twin, ChannelTable& channels, EngineTime now, double gauge) {
    Reading t{kTemperature, now, std::lround(100.0 * celsius_), Quality::good, Why::none};
    Reading p{kPressure, now, std::lround(1000.0 * (gauge + 0.02 * normal_(g_))), Quality::good, Why::none};
    if (i_ % 997 == 5) p = {kPressure, now, std::nullopt, Quality::bad, Why::failed_low};
    for (const Reading& r : {t, p}) {
      channels.take(r);
      twin.reading(site, kDock, channels, r);
    }
  }

  std::mt19937_64 g_;
  std::normal_distribution<double> normal_{0.0, 1.0};
  std::int64_t i_ = 0;
  double amount_ = 54.0, celsius_ = 20;
  bool filling_ = false, vent_ = false;
};

std::string saved(Twin& t) {
  Archive a = Archive::saving();
  a.section(1, 1, t);
  return std::move(a).take();
}

}  // namespace

TEST_CASE("twin: cut anywhere, saved and restored, it goes on to the same bytes") {
  const Site site = one_system();
  const auto seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 cuts(seed);
  for (int run = 0; run < 3; ++run) {
    Twin whole, cut;
    ChannelTable a(2), b(2);
    Week one(seed + 1), two(seed + 1);
    std::int64_t next = 1;
    for (std::int64_t i = 0; i < 12000; ++i) {
      one.step(site, whole, a);
      two.step(site, cut, b);
      if (i != next) continue;
      next += 1 + static_cast<std::int64_t>(cuts() % 1500);
      std::string bytes = saved(cut);
      Twin fresh;
      Archive in = Archive::loading(std::move(bytes));
      REQUIRE(in.section(1, 1, fresh));
      cut = fresh;
    }
    CHECK(saved(whole) == saved(cut));
    CHECK(whole.leak().why_not == cut.leak().why_not);
    CHECK(whole.leak().at_40psi.has_value() == cut.leak().at_40psi.has_value());
  }
}

TEST_CASE("twin: a week of refills, ventings, gaps and restarts gives the leak and the refills") {
  const Site site = one_system();
  Twin twin;
  ChannelTable channels(2);
  Week week(4);
  int refills = 0, vent_refills = 0;
  for (int i = 0; i < 60480; ++i) {
    week.step(site, twin, channels);
    if (const auto r = twin.refills().take_finished()) ++refills, vent_refills += r->cause == RefillCause::vent;
  }
  const LeakResult& leak = twin.leak();
  REQUIRE(leak.at_40psi);
  CHECK(leak.observable);
  // 4 psi/day at 54.7 psi absolute, put in above as a share of the amount
  CHECK(leak.at_40psi->low95 < 4.0);
  CHECK(leak.at_40psi->high95 > 4.0);
  CHECK(leak.at_service->value == doctest::Approx(4.0 * in_psi(*twin.mean_pressure()) / 40.0).epsilon(0.15));
  CHECK(leak.hole_mm.has_value());
  CHECK(refills >= 5);
  CHECK(refills <= 12);
  CHECK(vent_refills >= 1);
  CHECK(in_psi(*twin.mean_pressure()) > 35.0);
  CHECK(in_psi(*twin.mean_pressure()) < 40.0);
}

TEST_CASE("twin: what a regulator holds is not observable, and nothing is claimed before the first renewal") {
  Site site = one_system();
  Twin twin;
  CHECK(twin.leak().why_not == LeakRate::kNotEnough);
  CHECK_FALSE(twin.mean_pressure());
  site.systems[0].air.regulated = true;
  twin.renew_leak(site, kDock, kStart);
  CHECK_FALSE(twin.leak().observable);
  CHECK(twin.leak().why_not == LeakRate::kHeld);
}
