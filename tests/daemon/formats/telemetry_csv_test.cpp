#include "daemon/formats/telemetry_csv.h"

#include <doctest/doctest.h>

#include <random>

#include "daemon/formats/rfc3339.h"
#include "tests/daemon/formats/small_site.h"

using namespace riserkeep;
using riserkeep::testing::small_site;

namespace {

struct Result {
  std::vector<TelemetryRow> rows;
  std::optional<std::string> error;
  std::vector<std::string> notes;
};

// `piece`: how many bytes the stream gives at a time.
Result read(const Site& site, std::string text, std::size_t piece = 1 << 20) {
  std::size_t at = 0;
  TelemetryReader reader{[&](char* into, std::size_t room) {
    const std::size_t n = std::min({piece, room, text.size() - at});
    text.copy(into, n, at);
    at += n;
    return n;
  }, site, "t.csv"};
  Result r;
  while (auto row = reader.next()) r.rows.push_back(*row);
  r.error = reader.error();
  r.notes = reader.notes();
  return r;
}

const std::string kHead = "time,point,signal,value,quality\n";

Result read_rows(std::string rows) { return read(small_site(), kHead + rows); }
bool fails_with(const std::string& rows, const std::string& words) {
  const Result r = read_rows(rows);
  INFO(r.error.value_or("no error"));
  const bool found = r.error && r.error->find(words) != std::string::npos;
  CHECK(found);
  return found;
}

}  // namespace

TEST_CASE("rows become readings in integer ticks of the printed unit") {
  const auto r = read_rows("2031-10-13T01:00:00.250Z,loading-dock,pressure,38.125,good\n"
                           "2031-10-13T01:00:00.250Z,loading-dock,temperature,-4.5,uncertain\n"
                           "2031-10-13T01:00:01.250Z,east-nitrogen,dew-point,,bad\n");
  REQUIRE(r.rows.size() == 3);
  const Reading first = std::get<Reading>(r.rows[0].what);
  CHECK(first.channel == ChannelId{0});
  CHECK(first.ticks == 38125);
  CHECK(first.quality == Quality::good);
  CHECK(first.measured.time_since_epoch().count() == parse_rfc3339("2031-10-13T01:00:00.250Z")->ms);
  CHECK(std::get<Reading>(r.rows[1].what).ticks == -450);
  const Reading nothing = std::get<Reading>(r.rows[2].what);
  CHECK(!nothing.ticks);
  CHECK(nothing.why == Why::no_value);
  CHECK(!r.error);
}

TEST_CASE("outputs are found as recorded, and a position beats a command") {
  const auto r = read_rows("2031-10-13T01:00:00Z,loading-dock,vent_command,1,good\n"
                           "2031-10-13T01:00:01Z,roof-void,vent_open,0,good\n"
                           "2031-10-13T01:00:02Z,roof-void,vent_command,1,good\n"
                           "2031-10-13T01:00:03Z,loading-dock,sample_port,1,good\n"
                           "2031-10-13T01:00:04Z,loading-dock,vent_command,,bad\n");
  REQUIRE(r.rows.size() == 4);
  const auto seen = [&](std::size_t i) { return std::get<OutputObserved>(r.rows[i].what); };
  CHECK(seen(0).output == OutputId{0});
  CHECK(seen(0).state == OutputState::open);
  CHECK(seen(1).output == OutputId{1});
  CHECK(seen(1).state == OutputState::shut);
  CHECK(seen(2).output == OutputId{2});
  CHECK(seen(3).state == OutputState::unknown);
}

TEST_CASE("CR LF, a byte order mark and quoted fields are taken as RFC 4180 has them") {
  const auto r = read(small_site(), "\xEF\xBB\xBFtime,point,signal,value,quality\r\n"
                                    "\"2031-10-13T01:00:00Z\",\"loading-dock\",pressure,\"38.1\",good\r\n"
                                    "2031-10-13T01:00:01Z,loading-dock,pressure,38.2,good");
  CHECK(!r.error);
  REQUIRE(r.rows.size() == 2);
  CHECK(std::get<Reading>(r.rows[1].what).ticks == 38200);
}

TEST_CASE("disorder inside one second is sorted and keeps equal times in their order") {
  const auto r = read_rows("2031-10-13T01:00:01.000Z,loading-dock,pressure,1,good\n"
                           "2031-10-13T01:00:00.100Z,loading-dock,pressure,2,good\n"
                           "2031-10-13T01:00:01.000Z,roof-void,pressure,3,good\n"
                           "2031-10-13T01:00:00.900Z,loading-dock,pressure,4,good\n");
  REQUIRE(r.rows.size() == 4);
  std::vector<std::int64_t> order;
  for (const auto& row : r.rows) order.push_back(*std::get<Reading>(row.what).ticks / 1000);
  CHECK(order == std::vector<std::int64_t>{2, 4, 1, 3});
}

TEST_CASE("what is wrong is told with its line and the cure") {
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,1,good\n2031-10-13T01:00:03Z,loading-dock,pressure,1,good\n",
             "t.csv:3: its time 2031-10-13T01:00:03.000Z is 2.000 s before that of a row above; sort the rows by time");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,1\n", "t.csv:2: 4 columns where there must be 5");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,1,good,x\n", "6 columns");
  fails_with("13.10.2031 01:00,loading-dock,pressure,1,good\n", "is no time; write it as");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,\"38,1\",good\n", "is no number; write it with a decimal point");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,nan,good\n", "is no number");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,,good\n", "no value, yet quality good");
  fails_with("2031-10-13T01:00:05Z,loading-dock,pressure,1,fine\n", "must be good, uncertain or bad");
  fails_with(std::string("2031-10-13T01:00:05Z,load\0ing", 30) + "\n", "zero bytes");
  fails_with(std::string(10'000, 'x'), "more than 4096");
  CHECK(read(small_site(), "").error->find("empty") != std::string::npos);
  CHECK(read(small_site(), "a,b,c\n").error->find("t.csv:1: the first line is 'a,b,c'") != std::string::npos);
}

TEST_CASE("a cut last line is told after all rows before it were read") {
  const std::string row = "2031-10-13T01:00:05Z,loading-dock,pressure,1.000,good";
  for (const std::size_t n : {5u, 25u, 44u, 51u}) {
    const auto r = read_rows(row + "\n" + row.substr(0, n));
    CHECK(r.rows.size() == 1);
    REQUIRE(r.error);
    CHECK(r.error->find("the last line is cut off") != std::string::npos);
  }
}

TEST_CASE("unknown points and signals are noted once each and left out") {
  const auto r = read_rows("2031-10-13T01:00:05Z,attic,pressure,1,good\n2031-10-13T01:00:05Z,attic,pressure,2,good\n"
                           "2031-10-13T01:00:05Z,loading-dock,mood,2,good\n2031-10-13T01:00:05Z,loading-dock,pressure,2,good\n");
  CHECK(r.rows.size() == 1);
  REQUIRE(r.notes.size() == 2);
  CHECK(r.notes[0] == "t.csv:2: the site file knows no 'pressure' at point 'attic': its rows are left out");
}

TEST_CASE("ticks and their text are exact both ways") {
  CHECK(ticks_text(38125, 3) == "38.125");
  CHECK(ticks_text(-50, 3) == "-0.050");
  CHECK(ticks_text(INT64_MIN, 2) == "-92233720368547758.08");
  CHECK(parse_ticks("0.0005", 3) == 1);
  CHECK(parse_ticks("-0.0005", 3) == -1);
  CHECK(parse_ticks("0.00049999", 3) == 0);
  CHECK(parse_ticks("12", 3) == 12000);
  CHECK(parse_ticks("1.", 1) == 10);
  CHECK(parse_ticks(".5", 0) == 1);
  CHECK(parse_ticks("1.25e1", 2) == 1250);
  for (const char* bad : {"", "-", ".", "1,5", "1.2.3", "0x10", "inf", "1e999", "99999999999999999999", "1 ", "--1"})
    CHECK_MESSAGE(!parse_ticks(bad, 3), bad);
}

TEST_CASE("what is written is read back the same, however the stream is cut") {
  const Site site = small_site();
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  const auto below = [&](std::uint64_t n) { return random() % n; };
  for (int round = 0; round < 20; ++round) {
    std::vector<Reading> written;
    std::string text = kHead;
    std::int64_t ms = 1'950'000'000'000 + static_cast<std::int64_t>(below(1'000'000'000'000));
    for (int i = 0; i < 500; ++i) {
      ms += static_cast<std::int64_t>(below(3000));
      Reading r{ChannelId{static_cast<std::uint16_t>(below(site.channels.size()))}, EngineTime{Duration{ms}},
                static_cast<std::int64_t>(below(2'000'000)) - 1'000'000, static_cast<Quality>(below(3)), Why::none};
      if (r.quality == Quality::bad && below(2) == 0) r.ticks.reset(), r.why = Why::no_value;
      written.push_back(r);
      text += telemetry_row(site, WallTime{ms}, r) + "\n";
    }
    const auto back = read(site, text, 1 + below(5000));
    REQUIRE(!back.error);
    REQUIRE(back.rows.size() == written.size());
    for (std::size_t i = 0; i < written.size(); ++i) REQUIRE(std::get<Reading>(back.rows[i].what) == written[i]);
  }
}

TEST_CASE("random bytes never do more than fail") {
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  const std::string pieces[] = {",", "\n", "\r\n", "\"", "2031-10-13T01:00:05Z", "loading-dock", "pressure", "1.5", "good", "\xff", "-", "e9"};
  for (int round = 0; round < 3000; ++round) {
    std::string text = kHead;
    for (int i = 0; i < 40; ++i) text += pieces[random() % std::size(pieces)];
    const auto r = read(small_site(), text, 1 + random() % 50);
    CHECK(r.rows.size() <= 40);
  }
}
