#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <string>

#include <fmt/format.h>

#include "config/load/load.h"
#include "config/load/params.h"
#include "config/load/venting.h"
#include "rules/units.h"

using namespace riserkeep;

namespace {

const std::string kExamples = RISERKEEP_SOURCE_DIR "/config/examples/";

Description example(const std::string& name, Purpose purpose = Purpose::check) {
  Loaded loaded = load_site_file(kExamples + name, purpose);
  REQUIRE(loaded.description.has_value());
  return std::move(*loaded.description);
}

const RegisterPoint& point(const Description& d, std::string_view place, std::string_view signal) {
  const auto p = find_place(d.site, place);
  REQUIRE(p.has_value());
  const auto c = find_channel(d.site, *p, signal);
  REQUIRE(c.has_value());
  for (const RegisterPoint& r : d.wiring.registers)
    if (r.channel == *c) return r;
  FAIL("not wired: " << place << " " << signal);
  return d.wiring.registers.front();
}

std::string joined(const Loaded& loaded) {
  std::string out;
  for (const Problem& p : loaded.problems) out += format_problem(p) + "\n";
  return out;
}

// The least that replay asks for, with more sections appended.
Loaded replayed(const std::string& more, Purpose purpose = Purpose::replay) {
  return load_site(
      "t.yaml",
      "format: 1\nsupply: {name: N2, purity: 99 %}\nroom: {name: Room, vents_go: outdoors}\n"
      "systems:\n  A:\n    kind: dry pipe\n    valve: {type: latched, trips_at: 10 psi, low_air_switch: 20 psi}\n"
      "    air: {cut_in: 30 psi, cut_out: 36 psi}\n" +
          more,
      purpose);
}

}  // namespace

TEST_CASE("the example of the handbook is understood in every part") {
  const Description d = example("quillmere.yaml");
  CHECK(d.site.id == "QM-014");
  CHECK(d.site.time_zone == "America/Chicago");
  // 620 ft = 189 m: U.S. Standard Atmosphere 1976, 101325 (1 - 2.25577e-5 h)^5.25588 = 99 070 Pa
  CHECK(d.site.atmosphere.si() == doctest::Approx(99070).epsilon(0.001));
  REQUIRE(d.site.systems.size() == 2);
  const System& dock = d.site.systems[0];
  CHECK(dock.id == "loading-dock");
  CHECK(dock.name == "Loading dock");
  CHECK(in_psi(dock.valve.highest_water) == doctest::Approx(100));
  CHECK(in_psi(dock.band_low) == doctest::Approx(31));
  CHECK(dock.volume->si() == doctest::Approx(480 * 0.003785411784));
  CHECK(dock.vent->bore.si() == doctest::Approx(0.001));
  CHECK(dock.vent->tap == Tap::riser);
  CHECK(dock.purity->target.percent() == doctest::Approx(2));
  REQUIRE(dock.purity->port.has_value());
  CHECK(d.site[*dock.purity->port].place == PlaceId{SystemId{0}});
  const System& loft = d.site.systems[1];
  CHECK(in_psi(loft.band_low) == doctest::Approx(23.5));  // midway 20 to 27
  CHECK(in_psi(loft.band_high) == doctest::Approx(36));   // 1.2 x 30
  CHECK_FALSE(loft.volume.has_value());
  CHECK(d.site.supplies[0].id == "east-nitrogen");
  CHECK(d.site.supplies[0].oxygen.percent() == doctest::Approx(1));
  CHECK(d.site.supplies[0].analyser == AnalyserId{0});
  CHECK(d.site.rooms[0].oxygen.has_value());
  CHECK(d.site.analysers[0].flush == minutes(8));
  CHECK(d.site.people[0].calls_now);
  REQUIRE(d.site.people[1].at);
  CHECK(d.site.people[1].at->minute == 7 * 60);
  CHECK(d.site.people[1].at->days == 0x1f);
  CHECK(!d.site.people[1].at->holidays);
  CHECK(d.wiring.unwired.empty());
}

TEST_CASE("printed numbers become addresses from zero") {
  const Description d = example("quillmere.yaml");
  CHECK(point(d, "loading-dock", "pressure").address == 0);
  CHECK(point(d, "loading-dock", "pressure").table == RegisterTable::input_register);
  CHECK(point(d, "loading-dock", "pressure").unit == 3);
  CHECK(point(d, "loading-dock", "pressure").printed == "analog 30001");
  CHECK(point(d, "loading-dock", "waterflow").table == RegisterTable::discrete_input);
  CHECK(point(d, "loading-dock", "waterflow").address == 4);
  CHECK(point(d, "shared", "oxygen").unit == 7);
  CHECK(point(d, "shared", "oxygen").type == ValueType::int16);
  CHECK(point(d, "shared", "oxygen").conversion.scale == doctest::Approx(0.01));
  const auto& loop = point(d, "loading-dock", "pressure").conversion.loop;
  REQUIRE(loop.has_value());
  CHECK(loop->milliamp_per_count == doctest::Approx(0.001));
  CHECK(loop->high == doctest::Approx(200));
  for (const CoilOutput& o : d.wiring.coils)
    if (d.site[o.output].id == "loading-dock vent") {
      CHECK(o.coil == 0);
      CHECK(o.unit == 1);
      REQUIRE(o.device_time_out.has_value());
      CHECK(o.device_time_out->register_address == 100);
      CHECK(o.device_time_out->after == seconds(20));
    }
}

TEST_CASE("a span in other units is converted to the printed unit of its signal") {
  const Description d = example("quillmere.yaml");
  const auto& loop = point(d, "loading-dock", "temperature").conversion.loop;
  REQUIRE(loop.has_value());
  CHECK(loop->low == doctest::Approx(-40));  // -40 F = -40 C
  CHECK(loop->high == doctest::Approx(60));  // 140 F = 60 C
}

TEST_CASE("polls and staleness follow what is measured") {
  const Description d = example("demo.yaml");
  const auto dock = find_place(d.site, "loading-dock");
  CHECK(d.site[*find_channel(d.site, *dock, "pressure")].poll == seconds(2));
  CHECK(d.site[*find_channel(d.site, *dock, "low_air")].poll == seconds(2));
  CHECK(d.site[*find_channel(d.site, *dock, "temperature")].poll == seconds(10));
  CHECK(d.site[*find_channel(d.site, *dock, "temperature")].stale_after == seconds(60));
  const Description live = example("demo-live.yaml");
  CHECK(live.site[live.site.systems[0].pressure].poll == milliseconds(500));
}

TEST_CASE("a recorded oxygen of a system has its channel, wired to nothing") {
  const Description d = example("demo.yaml");
  for (const System& s : d.site.systems) {
    REQUIRE(s.oxygen.has_value());
    CHECK_FALSE(d.site[*s.oxygen].link.has_value());
    CHECK(d.site[*s.oxygen].signal == Signal::oxygen);
  }
}

TEST_CASE("replay and rehearsal need the systems only, run needs the wires") {
  const std::string text =
      "format: 1\nsystems:\n  A:\n    kind: preaction double\n    valve: {low_air_switch: 10 psi}\n"
      "    air: {at: analog 30001, cut_in: 20 psi, cut_out: 26 psi}\n    vent: {relay: relays 1, bore: 1 mm, taps: "
      "riser}\n"
      "    purity: {target: 98 %, analyser: shared}\n";
  for (const Purpose purpose : {Purpose::replay, Purpose::rehearse}) {
    const Loaded loaded = load_site("t.yaml", text, purpose);
    INFO(joined(loaded));
    REQUIRE(loaded.description.has_value());
    CHECK(loaded.description->site.analysers.size() == 1);
    CHECK(loaded.description->wiring.unwired.size() == 1);
  }
  CHECK_FALSE(load_site("t.yaml", text, Purpose::run).description.has_value());
  CHECK_FALSE(load_site("t.yaml", text, Purpose::check).description.has_value());
}

TEST_CASE("a regulator's pressure stands for both switches") {
  const Loaded loaded = load_site("t.yaml",
                                  "format: 1\nsystems:\n  A:\n    kind: preaction double\n    valve: {low_air_switch: "
                                  "20 psi}\n    air: {regulated: 40 psi}\n",
                                  Purpose::replay);
  INFO(joined(loaded));
  REQUIRE(loaded.description.has_value());
  const System& s = loaded.description->site.systems[0];
  CHECK(s.air.regulated);
  CHECK(in_psi(s.air.cut_out) == doctest::Approx(40));
  CHECK(s.air.cut_in < s.air.cut_out);
}

TEST_CASE("keyed rooms and supplies are told apart by name") {
  const std::string head =
      "format: 1\nrooms:\n  e: {name: East, vents_go: outdoors}\n  w: {name: West, vents_go: outdoors}\n"
      "supplies:\n  a: {name: N2 east, purity: 99 %, room: East}\n  b: {name: N2 west, purity: 99 %, room: West}\n"
      "systems:\n  A:\n    kind: preaction double\n    valve: {low_air_switch: 10 psi}\n    air: {cut_in: 20 psi, "
      "cut_out: 26 psi}\n";
  const Loaded named = load_site("t.yaml", head + "    supply: N2 west\n", Purpose::replay);
  INFO(joined(named));
  REQUIRE(named.description.has_value());
  CHECK(named.description->site.systems[0].supply == SupplyId{1});
  CHECK(named.description->site.systems[0].room == RoomId{1});
  const Loaded keyed = load_site("t.yaml", head + "    supply: b\n", Purpose::replay);
  REQUIRE(keyed.description.has_value());
  CHECK(keyed.description->site.systems[0].supply == SupplyId{1});
  CHECK_FALSE(load_site("t.yaml", head, Purpose::replay).description.has_value());
}

TEST_CASE("every rule parameter is read at its fallback, refused beyond its bounds and kept per system") {
  REQUIRE(!rule_keys().empty());
  for (const RuleKey& k : rule_keys()) {
    const auto file = [&](double si) {
      return fmt::format("rules: {{{}: {{{}: {}}}}}\n", k.rule, k.key, written(k.dimension, si));
    };
    INFO(k.rule << "." << k.key);
    CHECK_MESSAGE(replayed(file(k.fallback)).description.has_value(), joined(replayed(file(k.fallback))));
    const double beyond = k.high + 0.1 * (std::abs(k.high) + std::abs(k.low) + 1);
    CHECK_FALSE(replayed(file(beyond)).description.has_value());
  }
  const RuleKey& first = rule_keys().front();
  const Loaded own = replayed(
      fmt::format("    rules: {{{}: {{{}: {}}}}}\n", first.rule, first.key, written(first.dimension, first.high)));
  INFO(joined(own));
  REQUIRE(own.description.has_value());
  CHECK(own.description->rules.systems.size() == 1);
}

TEST_CASE("every key of the vent decision is read, bounded and explained") {
  for (const VentingKey& k : venting_keys()) {
    INFO(k.key);
    const double fallback = k.get(VentingParams{});
    CHECK(fallback >= k.low);
    CHECK(fallback <= k.high);
    CHECK(k.help.size() > 10);
    VentingParams p;
    k.set(p, k.high);
    CHECK(k.get(p) == doctest::Approx(k.high));
    const auto file = [&](double si) { return fmt::format("venting: {{{}: {}}}\n", k.key, written(k.dimension, si)); };
    CHECK_MESSAGE(replayed(file(fallback)).description.has_value(), joined(replayed(file(fallback))));
    CHECK_FALSE(replayed(file(k.high * 1.5 + 1)).description.has_value());
  }
}

TEST_CASE("missing files, directories and unreadable bytes are told apart") {
  namespace fs = std::filesystem;
  const auto what = [](const std::string& path) { return joined(load_site_file(path, Purpose::check)); };
  CHECK(what("/no/such/site.yaml").find("there is no such file") != std::string::npos);
  CHECK(what("/").find("this is a directory") != std::string::npos);
  const fs::path file =
      fs::temp_directory_path() / fmt::format("riserkeep-load-test-{}.yaml", static_cast<const void*>(&what));
  std::ofstream(file, std::ios::binary) << std::string(
      "\x7f"
      "ELF\0\0",
      6);
  CHECK(what(file.string()).find("control character") != std::string::npos);
  std::ofstream(file, std::ios::binary) << std::string(2u << 20, '#');
  CHECK(what(file.string()).find("more than 1048576") != std::string::npos);
  fs::remove(file);
}

TEST_CASE("auxiliary signals become channels of their place") {
  const Loaded loaded = replayed("    auxiliary: {door: {at: contacts 10012}}\n");
  INFO(joined(loaded));
  REQUIRE(loaded.description.has_value());
  CHECK(find_channel(loaded.description->site, PlaceId{SystemId{0}}, "door").has_value());
}

TEST_CASE("a purge taken over keeps its dates") {
  const Loaded loaded = replayed(
      "    purity: {target: 98 %}\n    purge: {started: 2031-10-13T01:00:00Z, due: 2031-10-24T19:00:00-05:00}\n");
  INFO(joined(loaded));
  REQUIRE(loaded.description.has_value());
  const auto& goal = *loaded.description->site.systems[0].purity;
  CHECK(goal.purge_started->ms == 1949619600000);  // date -u -d 2031-10-13T01:00:00Z +%s
  CHECK(goal.purge_due->ms == 1950652800000);      // date -u -d 2031-10-25T00:00:00Z +%s
}
