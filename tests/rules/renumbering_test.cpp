// State belongs to the id: a site file with its systems in another order, with one more and one less.
#include <doctest/doctest.h>

#include <algorithm>

#include "rules/alarms/board.h"
#include "rules/calendar_book.h"
#include "rules/engine.h"
#include "rules/site_names.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

Engine with(const Site& site) { return Engine{site, RuleSettings{}}; }

std::string saved(Engine& e) {
  Archive a = Archive::saving();
  e.keep(a);
  return std::move(a).take();
}

void feed(Engine& e, std::uint64_t n, EngineTime at, Input input) {
  Effects out;
  e.step({Seq{n}, at, std::move(input)}, out);
}

// The house with its first two systems exchanged, and the channels of the rest left alone.
Site exchanged(Site site) {
  std::swap(site.systems[0], site.systems[1]);
  for (Channel& c : site.channels)
    if (c.place.kind == PlaceKind::system && c.place.index < 2) c.place.index = static_cast<std::uint16_t>(1 - c.place.index);
  for (Output& o : site.outputs)
    if (o.place.kind == PlaceKind::system && o.place.index < 2) o.place.index = static_cast<std::uint16_t>(1 - o.place.index);
  std::reverse(site.channels.begin(), site.channels.end());
  const auto turned = [&](ChannelId& c) { c.index = static_cast<std::uint16_t>(site.channels.size() - 1 - c.index); };
  const auto maybe = [&](std::optional<ChannelId>& c) { if (c) turned(*c); };
  for (System& s : site.systems) {
    turned(s.pressure);
    for (auto* c : {&s.temperature, &s.low_air, &s.waterflow, &s.fire, &s.water_pressure, &s.oxygen}) maybe(*c);
  }
  for (Room& r : site.rooms)
    for (auto* c : {&r.oxygen, &r.temperature, &r.lockout, &r.barometer}) maybe(*c);
  for (Supply& s : site.supplies)
    for (auto* c : {&s.pressure, &s.air_bypass, &s.running, &s.flow_meter, &s.oxygen_meter}) maybe(*c);
  for (Analyser& a : site.analysers) turned(a.oxygen);
  return site;
}

}  // namespace

TEST_CASE("mode, lock, alarm and reading follow the id when the systems change places") {
  House h;
  Engine before = with(h.site);
  const std::string dock = h.site.systems[0].id, other = h.site.systems[1].id;
  EngineTime t{hours(1)};
  feed(before, 1, t, Resumed{true});
  feed(before, 2, t, OperatorCommand{"R. Fitter", LockOut{SystemId{0}, true, "hose off"}});
  for (std::uint64_t n = 0; n < 200; ++n) {
    t += seconds(1);
    feed(before, 10 + n, t, Reading{h.site.systems[0].pressure, t, 20'000, Quality::good, Why::none});   // 20 psi: low
  }
  REQUIRE(before.view().alarms.find(ClassId::pressure_low, SystemId{0}));
  Engine after = with(exchanged(h.site));
  Archive a = Archive::loading(saved(before));
  after.keep(a);
  const SiteView v = after.view();
  const auto now = *find_system(v.site, dock);
  CHECK(now.index == 1);
  CHECK(v.vent(now).locked_why == before.view().vent(SystemId{0}).locked_why);
  CHECK(v.vent(now).locked);
  CHECK_FALSE(v.vent(*find_system(v.site, other)).locked);
  CHECK(v.alarms.find(ClassId::pressure_low, now));
  CHECK_FALSE(v.alarms.find(ClassId::pressure_low, *find_system(v.site, other)));
  CHECK(v.channels[v.site[now].pressure].ticks == 20'000);
}

TEST_CASE("a system more begins afresh, a system less takes its state along") {
  House h;
  Engine before = with(h.site);
  const EngineTime t{hours(1)};
  feed(before, 1, t, Resumed{true});
  feed(before, 2, t, OperatorCommand{"R. Fitter", LockOut{SystemId{0}, true, "hose off"}});
  const std::string bytes = saved(before);
  Site more = h.site;
  System added = more.systems[0];
  added.id = "annexe";
  added.name = "Annexe";
  more.channels.push_back(more.channels[added.pressure.index]);
  more.channels.back().place = SystemId{static_cast<std::uint16_t>(more.systems.size())};
  added.pressure = ChannelId{static_cast<std::uint16_t>(more.channels.size() - 1)};
  added.vent.reset();
  added.purity.reset();
  more.systems.push_back(added);
  Engine larger = with(more);
  Archive a = Archive::loading(bytes);
  larger.keep(a);
  CHECK(larger.view().vents.size() == more.systems.size());
  CHECK(larger.view().twins.size() == more.systems.size());
  CHECK(larger.view().vent(SystemId{0}).locked);
  CHECK_FALSE(larger.view().vents.back().locked);
  EngineTime later = t;
  for (std::uint64_t n = 0; n < 5; ++n) {
    later += seconds(1);
    feed(larger, 10 + n, later, Reading{added.pressure, later, 30'000, Quality::good, Why::none});   // its channel exists
  }
  CHECK(larger.view().channels[added.pressure].ticks == 30'000);
  Engine again = with(h.site);
  Archive back = Archive::loading(saved(larger));
  again.keep(back);
  CHECK(again.view().vent(SystemId{0}).locked);
  CHECK(again.view().twins.size() == h.site.systems.size());
}

TEST_CASE("the calendar's record follows names, and forgets who is gone") {
  House h;
  Site site = h.site;
  site.people = {{"night", {}, false, {}, {}, {}, {}}, {"works", {}, false, {}, {}, {}, {}}};
  CalendarBook book;
  book.take(site, {CalendarKey::morning, true, 1, 20'000}, EngineTime{});
  std::swap(site.people[0], site.people[1]);
  book.fit(site);
  CHECK(book.told(site, CalendarKey::morning, 0, 20'000));
  CHECK_FALSE(book.told(site, CalendarKey::morning, 1, 20'000));
  site.people.clear();
  book.fit(site);
  site.people = {{"works", {}, false, {}, {}, {}, {}}};
  CHECK_FALSE(book.told(site, CalendarKey::morning, 0, 20'000));
}
