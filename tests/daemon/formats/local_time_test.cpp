#include "daemon/formats/local_time.h"

#include <doctest/doctest.h>

using namespace riserkeep;

TEST_CASE("local time: summer and winter in the site's zone, tzdata of the system") {
  const WallTime winter{1795601527000};  // 2026-11-25T10:12:07Z
  CHECK(local_stamp("America/Chicago", winter) == "Wed 25 Nov 2026 04:12:07 CST");
  const WallTime summer{1782900000000};  // 2026-07-01T10:00:00Z
  CHECK(local_minute("America/Chicago", summer) == "Wed 01 Jul 05:00");
  CHECK(local_stamp("Nowhere/Town", winter) == "Wed 25 Nov 2026 10:12:07 UTC");
  CHECK_FALSE(zone_exists("Nowhere/Town"));
}

TEST_CASE("local time: the next 17:00, and 02:30 over both nights of the clock change") {
  const WallTime winter{1795601527000};  // 2026-11-25T10:12:07Z, 04:12 in Chicago
  CHECK(local_minute("America/Chicago", next_local_minute("America/Chicago", winter, 17 * 60)) == "Wed 25 Nov 17:00");
  CHECK(local_minute("America/Chicago", next_local_minute("America/Chicago", winter, 4 * 60)) == "Thu 26 Nov 04:00");
  const WallTime autumn{1793512800000};  // 2026-11-01T06:00:00Z, 01:00 CDT: the night the clocks go back in Chicago
  CHECK(next_local_minute("America/Chicago", autumn, 90).ms == 1793518200000);   // 01:30 CST, the second of the two
  const WallTime spring{1772953200000};  // 2026-03-08T07:00:00Z, 01:00 CST: 02:30 does not come this night
  CHECK(local_minute("America/Chicago", next_local_minute("America/Chicago", spring, 150)) == "Sun 08 Mar 03:00");
}
