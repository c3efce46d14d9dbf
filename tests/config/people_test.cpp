// Who is told, when, what is due: the sections of the site file about people.
#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "config/load/load.h"
#include "config/load/local_times.h"
#include "config/load/people.h"
#include "config/report.h"

using namespace riserkeep;

namespace {

const std::string kHead =
    "format: 1\nsupply: {name: N2, purity: 99 %}\nroom: {name: Room, vents_go: outdoors}\n"
    "analysers: {cell: {at: analog 30003, cell: galvanic, ports: {hall: relays 5, yard: relays 6}}}\n"
    "links: {bus: {modbus_tcp: 192.0.2.30}, relays: {modbus_tcp: 192.0.2.31, unit: 1}}\n"
    "devices: {analog: {link: bus, unit: 3, signal: 4-20 mA, span: 0 to 100 psi}}\n"
    "systems:\n"
    "  Hall: {kind: preaction double, valve: {low_air_switch: 10 psi}, air: {at: analog 30001, cut_in: 20 psi, cut_out: 26 psi},\n"
    "    vent: {relay: relays 1, bore: 1 mm, taps: riser}, purity: {target: 98 %, analyser: cell}}\n"
    "  Yard: {kind: preaction double, valve: {low_air_switch: 10 psi}, air: {at: analog 30002, cut_in: 20 psi, cut_out: 26 psi},\n"
    "    vent: {relay: relays 2, bore: 1 mm, taps: far end}, purity: {target: 98 %, analyser: cell}}\n";

Description loaded(const std::string& more) {
  Loaded l = load_site("t.yaml", kHead + more, Purpose::replay);
  std::string said;
  for (const Problem& p : l.problems) said += format_problem(p) + "\n";
  INFO(said);
  REQUIRE(l.description.has_value());
  return std::move(*l.description);
}

DayTime at(const std::string& when) { return *loaded("people: {p: {mail: a@b, for: all, at: \"" + when + "\"}}\n").site.people[0].at; }

std::size_t count(const Site& site, ChoreKind kind) {
  return static_cast<std::size_t>(std::ranges::count_if(site.chores, [&](const Chore& c) { return c.kind == kind; }));
}

}  // namespace

TEST_CASE("a person has several ways, tried as they are written, and may be told later, elsewhere, not at night") {
  const Site site = loaded(
      "people:\n  night: {hook: https://alerts.example.org/in, sms_by_mail: 5550100@text.example, mail: [a@example.org, b@example.org],\n"
      "    for: all, places: [Hall, n2], after: 30 min, at: weekdays 07:00, quiet: 22:00 to 06:00}\n").site;
  REQUIRE(site.people.size() == 1);
  const Person& p = site.people[0];
  REQUIRE(p.reach.size() == 4);
  CHECK(p.reach[0].by == ReachBy::hook);
  CHECK(p.reach[1].by == ReachBy::sms_by_mail);
  CHECK(p.reach[3].address == "b@example.org");
  REQUIRE(p.places.size() == 2);
  CHECK(p.places[0] == PlaceId{SystemId{0}});
  CHECK(p.places[1] == PlaceId{SupplyId{0}});
  CHECK(p.after == minutes(30));
  CHECK(p.quiet->from_minute == 22 * 60);
  CHECK(p.quiet->until_minute == 6 * 60);
}

TEST_CASE("days are written as people say them") {
  CHECK(at("daily 00:00").days == 0x7f);
  CHECK(at("daily 23:59").minute == 23 * 60 + 59);
  CHECK(at("weekdays 07:00").days == 0x1f);
  CHECK_FALSE(at("weekdays 07:00").holidays);
  CHECK(at("Weekends 09:00").days == 0x60);
  CHECK(at("sunday 02:30").days == 0x40);
  CHECK(at("Mon, Thu 02:30").days == 0x09);
  CHECK(at("mon,wednesday , fri 02:30").days == 0x15);
  CHECK(at("monday to friday 08:00").days == 0x1f);
  CHECK(at("monday to friday 08:00").holidays);
  CHECK(at("friday to monday 08:00").days == 0x71);
  for (const char* text : {"daily 07:00", "weekdays 07:05", "weekends 23:00", "mon, thu 02:30"}) CHECK(day_time_text(at(text)) == text);
}

TEST_CASE("every key about messages is read, bounded and explained") {
  for (const MessageKey& k : message_keys()) {
    INFO(k.key);
    const double fallback = k.get(MessageParams{});
    CHECK(fallback >= k.low);
    CHECK(fallback <= k.high);
    CHECK(k.help.size() > 10);
    MessageParams p;
    k.set(p, k.high);
    CHECK(k.get(p) == doctest::Approx(k.high));
  }
  const MessageParams p =
      loaded("messages: {remind_high: 2 h, flood: 20, all_well: daily 08:00, start_and_stop: no}\n").site.messages;
  CHECK(p.remind_high == hours(2));
  CHECK(p.flood == 20);
  CHECK(p.all_well->minute == 8 * 60);
  CHECK_FALSE(p.start_and_stop);
}

TEST_CASE("maintenance windows name what, who, when and for how long") {
  const Site site = loaded(
      "maintenance:\n  weekly test: {who: Works, from: sunday 02:30, for: 90 min}\n"
      "  service: {systems: Hall, what: quarterly service, who: Contractor, from: weekdays 09:00, for: 4 h}\n").site;
  REQUIRE(site.windows.size() == 2);
  CHECK(site.windows[0].id == "weekly-test");
  CHECK(site.windows[0].what == "weekly test");
  CHECK(site.windows[0].systems.empty());
  CHECK(site.windows[0].length_minutes == 90);
  CHECK(site.windows[1].systems == std::vector<SystemId>{SystemId{0}});
  CHECK_FALSE(site.windows[1].from.holidays);
}

TEST_CASE("chores have defaults, kind by kind, and none are wanted only when the file says so") {
  const Site site = loaded("").site;
  CHECK(count(site, ChoreKind::gauge_comparison) == 2);
  CHECK(count(site, ChoreKind::air_check) == 1);      // galvanic
  CHECK(count(site, ChoreKind::hand_reading) == 1);   // the riser tap only: the far-end tap reads it by itself
  CHECK(count(site, ChoreKind::leak_test) == 2);
  CHECK(count(site, ChoreKind::low_point_drains) == 2);
  for (const Chore& c : site.chores) CHECK(c.every.has_value() != c.before.has_value());
  CHECK(loaded("chores: none\n").site.chores.empty());
  const Site own = loaded("chores: {g: {do: gauge comparison, every: 30 d, at: hall}, d: {do: low-point drains, before: 04-15}, l: {do: leak test, every: never}}\n").site;
  CHECK(count(own, ChoreKind::gauge_comparison) == 1);
  CHECK(count(own, ChoreKind::leak_test) == 0);
  CHECK(count(own, ChoreKind::air_check) == 1);
  for (const Chore& c : own.chores) {
    if (c.kind == ChoreKind::gauge_comparison) CHECK(c.every == days(30));
    if (c.kind == ChoreKind::low_point_drains) CHECK(c.before->month == 4);
  }
}

TEST_CASE("holidays are dates in order, texts are the site's own words") {
  const Site site = loaded("holidays: [2027-01-01, 2026-12-25]\ntexts: {pressure-low: \"Call the porter first.\"}\n").site;
  CHECK(site.holidays == std::vector<std::string>{"2026-12-25", "2027-01-01"});
  REQUIRE(site.texts.size() == 1);
  CHECK(site.texts[0].alarm == ClassId::pressure_low);
}

TEST_CASE("the relay that says the box is well is an output of the box, wired like any other") {
  const Description d = loaded("box: {well_output: relays 9}\n");
  const auto found = std::ranges::find_if(d.site.outputs, [](const Output& o) { return o.kind == OutputKind::box_well; });
  REQUIRE(found != d.site.outputs.end());
  CHECK(found->place == PlaceId{});
  CHECK(std::ranges::any_of(d.wiring.coils, [](const CoilOutput& c) { return c.printed == "relays 9" && c.coil == 8; }));
}

TEST_CASE("the report says who is told what, what is done when and what is due") {
  const std::string report = check_report(loaded(
      "people: {night: {sms_by_mail: 1@text.example, mail: n@example.org, for: call now, quiet: 22:00 to 06:00}, boss: {mail: b@example.org, for: all, after: 2 h, at: weekdays 07:00}}\n"
      "maintenance: {weekly test: {who: Works, from: sunday 02:30, for: 90 min}}\nbox: {well_output: relays 9}\n"));
  for (const char* part : {"text by mail 1@text.example, then mail n@example.org", "quiet 22:00 to 06:00", "once unacknowledged for 2 h",
                           "weekdays 07:00", "weekly-test", "sun 02:30 for 1 h 30 min, by Works", "gauge comparison, every 90 d",
                           "low-point drains, before 10-15", "box well"})
    CHECK_MESSAGE(report.find(part) != std::string::npos, part << " is missing from\n" << report);
}
