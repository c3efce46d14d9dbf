#include <doctest/doctest.h>

#include <cmath>

#include "rules/venting/explain.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"
#include "rules/text.h"
#include "small_plant.h"

using namespace riserkeep;

namespace {

Site one_system() {
  Site site;
  site.rooms.emplace_back();
  site.supplies.emplace_back();
  Channel pressure;
  pressure.place = SystemId{0};
  pressure.poll = seconds(2);
  pressure.span_high = 200;
  site.channels.push_back(pressure);
  site.outputs.emplace_back();
  System s;
  s.id = "loading-dock";
  s.valve = {ValveKind::differential, 5.5, psi(100), {}, psig(28), false};
  s.air = {psig(35), psig(40), false};
  s.volume = gallons(480);
  s.vent = Vent{OutputId{0}, millimetres(1.0), 0.85, Tap::riser, {}};
  site.systems.push_back(s);
  return site;
}

}  // namespace

TEST_CASE("the trip pressure follows the published worked examples") {
  Site site = one_system();
  // Sprinkler association article, 2023-02-27: 100 psi water over 5.5 trips at 18.18 psi.
  CHECK(in_psi(*trip_pressure(site.systems[0], {})) == doctest::Approx(18.181818).epsilon(1e-6));
  // US Navy training manual 14259, chapter 8: a 6:1 valve with 30 psi of air holds 180 psi of water.
  site.systems[0].valve.ratio = 6;
  site.systems[0].valve.highest_water = psi(180);
  CHECK(in_psi(*trip_pressure(site.systems[0], {})) == doctest::Approx(30.0));
}

TEST_CASE("water seen above the configured raises the trip pressure") {
  const Site site = one_system();
  CHECK(in_psi(*trip_pressure(site.systems[0], psi(110))) == doctest::Approx(20.0));
  CHECK(in_psi(*trip_pressure(site.systems[0], psi(60))) == doctest::Approx(18.181818).epsilon(1e-6));
}

TEST_CASE("losing air opens a non-interlocked preaction valve but not an interlocked one") {
  Site site = one_system();
  site.systems[0].kind = SystemKind::preaction_double;
  CHECK_FALSE(trip_pressure(site.systems[0], {}).has_value());
  site.systems[0].kind = SystemKind::preaction_non;
  site.systems[0].valve.trips_at = psig(12);
  CHECK(in_psi(*trip_pressure(site.systems[0], {})) == doctest::Approx(12.0));
}

TEST_CASE("floor covers the gauge and what may fall while nobody looks") {
  const Site site = one_system();
  const Ladder l = ladder(site, SystemId{0}, 0, psig(35));
  CHECK(in_psi(l.limit) == doctest::Approx(31.2));      // 28 + 8 % of 40
  // Gauge 0.5 % of 200 psi, and 4 polls + 1 s + 1 s at the fastest fall.
  CHECK(l.margin.si() == doctest::Approx(psi(1.0).si() + 10.0 * l.fastest_fall.si()));
  CHECK(in_psi(l.floor) == doctest::Approx(32.2).epsilon(0.005));
  CHECK(in_psi(l.close_at) == doctest::Approx(33.5));   // cut-in - 1.5 psi
  CHECK(in_psi(l.open_from) == doctest::Approx(34.5));
  CHECK(l.trip < l.limit);
}

TEST_CASE("reaction time is that of choked flow while the learned rate leads") {
  Site site = one_system();
  site.systems[0].volume.reset();
  const double k = 1e-4;
  const Ladder l = ladder(site, SystemId{0}, k, psig(35));
  const double expected = std::log(54.6959 / 32.8777) / k;   // psi absolute at 40 and 18.18 psi gauge
  CHECK(in_seconds(*l.reaction) == doctest::Approx(expected).epsilon(1e-3));
  CHECK_FALSE(ladder(site, SystemId{0}, 0, psig(35)).reaction.has_value());
}

TEST_CASE("a permit counts on the highest water pressure measured in the last seven days") {
  SmallPlant p;
  Channel water;
  water.place = SystemId{0};
  water.signal = Signal::water_pressure;
  p.site.channels.push_back(water);
  p.site.systems[0].water_pressure = ChannelId{static_cast<std::uint16_t>(p.site.channels.size() - 1)};
  p.channels = ChannelTable(p.site.channels.size());
  p.run(minutes(1));
  const GaugePressure before = ladder_now(p.view(), SystemId{0}).limit;
  CHECK(explain_trip(p.view(), SystemId{0}).find("none measured") != std::string::npos);
  p.read(*p.site.systems[0].water_pressure, 143, 100);
  const Ladder l = ladder_now(p.view(), SystemId{0});
  CHECK(in_psi(*l.trip) == doctest::Approx(26.0));   // 143 psi over 5.5
  CHECK(in_psi(l.limit) == doctest::Approx(36.0));
  CHECK(l.limit > before);
  CHECK(explain_trip(p.view(), SystemId{0}).find("measured in 7 days, 143.0 psi, over the ratio of 5.5") != std::string::npos);
  for (const Check& c : permit(p.view(), SystemId{0}, false).checks)
    if (c.what == "air") CHECK(c.needs == "above " + psi_text(l.open_from));
  p.now += hours(24 * 9);
  CHECK(ladder_now(p.view(), SystemId{0}).limit == before);
}
