#include "daemon/formats/rfc3339.h"

#include <doctest/doctest.h>

#include <random>

using namespace riserkeep;

namespace {
std::int64_t ms(const char* text) {
  const auto t = parse_rfc3339(text);
  REQUIRE_MESSAGE(t.has_value(), text);
  return t->ms;
}
}  // namespace

TEST_CASE("the examples of RFC 3339 section 5.8") {
  // "1985-04-12T23:20:50.52Z": 20 minutes and 50.52 seconds after the 23rd hour of April 12th, 1985 in UTC.
  CHECK(ms("1985-04-12T23:20:50.52Z") == 482'196'050'520);
  // "1996-12-19T16:39:57-08:00 [...] is equivalent to 1996-12-20T00:39:57Z in UTC."
  CHECK(ms("1996-12-19T16:39:57-08:00") == ms("1996-12-20T00:39:57Z"));
  // "1990-12-31T23:59:60Z [...] represents the leap second inserted at the end of 1990"; the same with an offset.
  CHECK(ms("1990-12-31T23:59:60Z") == ms("1991-01-01T00:00:00Z"));
  CHECK(ms("1990-12-31T15:59:60-08:00") == ms("1990-12-31T23:59:60Z"));
  // "1937-01-01T12:00:27.87+00:20": noon in the Netherlands, with the nearest offset that can be written.
  CHECK(ms("1937-01-01T12:00:27.87+00:20") == ms("1937-01-01T11:40:27.870Z"));
}

TEST_CASE("POSIX seconds since the Epoch for known dates") {
  CHECK(ms("1970-01-01T00:00:00Z") == 0);
  CHECK(ms("2001-09-09T01:46:40Z") == 1'000'000'000'000);  // POSIX 4.16: 10^9 s
  CHECK(ms("2038-01-19T03:14:07Z") == 2'147'483'647'000);  // POSIX 4.16: 2^31 - 1 s
}

TEST_CASE("what is no RFC 3339 time is refused") {
  for (const char* bad : {"", "2031-10-13", "2031-10-13T01:00:00", "2031-13-01T00:00:00Z", "2031-02-29T00:00:00Z",
                          "2031-10-13T24:00:00Z", "2031-10-13T00:60:00Z", "2031-10-13T00:00:61Z", "2031-10-13T00:00:00.Z",
                          "2031-10-13T00:00:00+0200", "2031-10-13T00:00:00Zx", "31-10-13T00:00:00.000Z", "-2031-10-13T00:00:00Z",
                          "2031/10/13T00:00:00.000Z", "2031-10-13T00:00:00,000Z"})
    CHECK_MESSAGE(!parse_rfc3339(bad), bad);
}

TEST_CASE("every millisecond of the years 0000 to 9999 comes back") {
  const unsigned seed = std::random_device{}();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  std::uniform_int_distribution<std::int64_t> any{-62'167'219'200'000, 253'402'300'799'999};
  for (int i = 0; i < 20'000; ++i) {
    const WallTime t{any(random)};
    const auto back = parse_rfc3339(rfc3339(t));
    REQUIRE(back);
    REQUIRE(back->ms == t.ms);
  }
  CHECK(rfc3339(WallTime{-62'167'219'200'000}) == "0000-01-01T00:00:00.000Z");
  CHECK(rfc3339(WallTime{-1}) == "1969-12-31T23:59:59.999Z");
  CHECK(rfc3339(WallTime{INT64_MAX}) == "9999-12-31T23:59:59.999Z");
}
