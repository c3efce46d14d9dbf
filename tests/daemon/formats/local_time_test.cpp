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
