#include "daemon/commands/export.h"

#include <doctest/doctest.h>

#include <random>

#include "daemon/formats/telemetry_csv.h"
#include "daemon/history/store.h"
#include "tests/daemon/formats/random_input.h"
#include "tests/daemon/formats/small_site.h"
#include "tests/daemon/history/feeder.h"
#include "tests/daemon/history/temp_dir.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

constexpr std::int64_t kWall = 1'950'000'000'000;
constexpr std::int64_t kHour = 3'600'000;
using Exporter = int (*)(const std::filesystem::path&, std::FILE*, std::FILE*);

struct Exported { int code = -1; std::string out, err; };
Exported exported(Exporter how, const std::filesystem::path& dir) {
  Exported e;
  e.out = written([&](std::FILE* out) { e.err = written([&](std::FILE* err) { e.code = how(dir, out, err); }); });
  return e;
}
std::string text_of(Exporter how, const std::filesystem::path& dir) {
  const Exported e = exported(how, dir);
  CHECK(e.code == 0);
  CHECK_MESSAGE(e.err.empty(), e.err);
  return e.out;
}

TelemetryReader::Source source_of(const std::string& text) {
  return [&text, at = std::size_t{0}](char* into, std::size_t room) mutable {
    const std::size_t n = std::min(room, text.size() - at);
    text.copy(into, n, at);
    at += n;
    return n;
  };
}

// Three hours and some minutes; gives the rows that must come out.
std::string feed_hours(const Site& site, Store& store, std::uint64_t seed) {
  std::mt19937_64 random{seed};
  std::string expected = std::string{kTelemetryHeader} + "\n";
  Feeder feed{site, store, store.restore()};
  feed.input(at_ms(1000), WallMapped{kWall, true});
  for (std::int64_t ms = 3'000'000; ms < 3 * kHour + 700'000; ms += 10'000) {
    for (std::uint16_t c = 0; c < site.channels.size(); ++c) {
      if (random() % 20 == 0) continue;
      const Reading reading{ChannelId{c}, at_ms(ms + c), static_cast<std::int64_t>(random() % 2), static_cast<Quality>(random() % 2), Why::none};
      feed.input(at_ms(ms + 20), reading);
      expected += telemetry_row(site, WallTime{kWall + ms + c}, reading) + "\n";
    }
    if (ms % 600'000 != 0) continue;
    feed.input(at_ms(ms + 100), OutputObserved{OutputId{1}, OrderNo{1}, OutputOutcome::confirmed, OutputState::open});
    expected += telemetry_row(WallTime{kWall + ms + 100}, "roof-void", "vent_command", 0, 1, Quality::good) + "\n";
    REQUIRE(durable(store));
    if (ms % 1'800'000 == 0) store.snapshot("state", feed.last());
  }
  REQUIRE(durable(store));
  return expected;
}

}  // namespace

TEST_CASE("exported telemetry is what was fed, closed hours and the open one, while the store runs and after") {
  const TempDir dir;
  const Site site = small_site();
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::string expected;
  {
    Store store{dir.path(), site, "cfg", nullptr};
    expected = feed_hours(site, store, seed);
    CHECK(text_of(export_telemetry, dir.path()) == expected);
  }
  CHECK(text_of(export_telemetry, dir.path()) == expected);
  Store again{dir.path(), site, "cfg", nullptr};  // the open hour comes back from the tail
  Feeder feed{site, again, again.restore()};
  for (const std::int64_t h : {9, 10}) {
    feed.reading(at_ms(h * kHour), 0, 5);
    REQUIRE(durable(again));
    expected += telemetry_row(WallTime{kWall + h * kHour}, "loading-dock", "pressure", 3, 5, Quality::good) + "\n";
  }
  CHECK(text_of(export_telemetry, dir.path()) == expected);
  TelemetryReader reader{source_of(expected), site};
  std::int64_t rows = 0;
  while (reader.next()) ++rows;
  CHECK(rows + 1 == std::count(expected.begin(), expected.end(), '\n'));
  CHECK(!reader.error());
}

TEST_CASE("exported inputs begin at the older snapshot and read back the same") {
  const TempDir dir;
  const Site site = small_site();
  Store store{dir.path(), site, "cfg", nullptr};
  Feeder feed{site, store, store.restore()};
  RandomInputs inputs{5};
  for (int i = 0; i < 90; ++i) {
    feed.input(at_ms(i * 1000), inputs.next().input, 1);
    REQUIRE(durable(store));
    if (i % 30 == 29) store.snapshot("state after " + std::to_string(i), feed.last());
  }
  REQUIRE(durable(store));
  const std::string text = text_of(export_inputs, dir.path());
  CHECK(looks_like_input_log(text));
  InputLogReader reader{source_of(text), site};
  REQUIRE(reader.header());
  CHECK(reader.header()->config_sha256 == "cfg");
  CHECK(reader.header()->snapshot == "state after 59");
  CHECK(reader.header()->first_event_seq == 61);
  for (std::size_t i = 60; i < 90; ++i) {
    const auto s = reader.next();
    REQUIRE(s);
    CHECK(packed(*s) == packed(feed.fed[i]));
  }
  CHECK(!reader.next());
  CHECK(!reader.error());
}

TEST_CASE("exported events are the lines as they were told") {
  const TempDir dir;
  const Site site = small_site();
  Store store{dir.path(), site, "cfg", nullptr};
  Feeder feed{site, store, store.restore()};
  std::string expected;
  for (int i = 0; i < 1100; ++i) feed.reading(at_ms(i), 0, i, 1);
  REQUIRE(durable(store));
  for (const auto& line : feed.told) expected += line + "\n";
  CHECK(text_of(export_events, dir.path()) == expected);
}

TEST_CASE("a directory without a record is told") {
  const TempDir dir;
  const Exported e = exported(export_events, dir.path());
  CHECK(e.code == 1);
  CHECK(e.out.empty());
  CHECK(e.err.find("journal.db is not there") != std::string::npos);
}
