// RFC 3339 section 5.8 examples, and instants whose POSIX seconds are published or recomputed.
#include <doctest/doctest.h>

#include "drivers/wall_time.h"

using namespace riserkeep;

TEST_CASE("RFC 3339 section 5.8 examples and known instants") {
  struct Row { const char* text; std::int64_t ms; };
  const Row rows[] = {
      {"1985-04-12T23:20:50.52Z", 482196050520},          // RFC 3339 5.8
      {"1996-12-19T16:39:57-08:00", 851042397000},        // RFC 3339 5.8
      {"1996-12-20T00:39:57Z", 851042397000},             // the same instant, as it says
      {"1990-12-31T23:59:60Z", 662688000000},             // RFC 3339 5.8, leap second, as POSIX counts
      {"1990-12-31T15:59:60-08:00", 662688000000},        // RFC 3339 5.8
      {"1937-01-01T12:00:27.87+00:20", -1041337172130},   // RFC 3339 5.8
      {"1969-07-20T20:17:00Z", -14182980000},
      {"1970-01-01T00:00:00Z", 0},
      {"2000-02-29T12:00:00Z", 951825600000},
      {"2024-12-30T00:00:00Z", 1735516800000},
      {"2026-12-28T00:00:00Z", 1798416000000},
      {"2038-01-19T03:14:07Z", 2147483647000},
      {"1970-01-01t00:00:00z", 0},                        // 5.6: lower case is allowed
      {"1970-01-01 00:00:00-00:00", 0},                   // 5.6 note: a space; 4.3: offset unknown
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const auto t = parse_rfc3339(row.text);
    REQUIRE(t.has_value());
    CHECK(t->ms == row.ms);
  }
}

TEST_CASE("What is not an RFC 3339 time is refused") {
  for (const char* text : {"", "1990-13-31T00:00:00Z", "1990-00-10T00:00:00Z", "2023-02-29T00:00:00Z", "2024-02-30T00:00:00Z",
                           "2024-01-01T24:00:00Z", "2024-01-01T23:60:00Z", "2024-01-01T12:00:60Z", "2024-01-01T00:00:00",
                           "2024-01-01T00:00Z", "2024-01-01", "24-01-01T00:00:00Z", "2024-01-01T00:00:00.Z",
                           "2024-01-01T00:00:00+0100", "2024-01-01T00:00:00+24:00", "2024-01-01T00:00:00Z ", "x",
                           "2024-1-01T00:00:00Z", "+024-01-01T00:00:00Z"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_rfc3339(text).has_value());
  }
}

TEST_CASE("Written times are read back the same, over the range that four digits of year hold") {
  for (std::int64_t ms = -62167219200000; ms < 253402300800000; ms += 7'777'777'777'777 / 1000) {
    const auto back = parse_rfc3339(format_rfc3339({ms}));
    REQUIRE(back.has_value());
    REQUIRE(back->ms == ms);
  }
  CHECK(format_rfc3339({1798416000250}, 2) == "2026-12-28T00:00:00.25Z");
  CHECK(format_rfc3339({-1}, 0) == "1969-12-31T23:59:59Z");
}
