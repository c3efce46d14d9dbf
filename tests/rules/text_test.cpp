#include "rules/text.h"

#include <doctest/doctest.h>

#include "rules/units.h"

using namespace riserkeep;

TEST_CASE("text: figures keep their decimals and never print a negative zero") {
  CHECK(fixed(-0.04, 1) == "0.0");
  CHECK(fixed(-0.06, 1) == "-0.1");
  CHECK(psi_text(psig(35.66)) == "35.7 psi");
  CHECK(significant2(0.834) == "0.83");
  CHECK(significant2(4.12) == "4.1");
  CHECK(significant2(123.4) == "123");
}

TEST_CASE("text: durations read as people say them") {
  CHECK(duration_text(seconds(26)) == "26 s");
  CHECK(duration_text(minutes(41)) == "41 min");
  CHECK(duration_text(minutes(90)) == "1 h 30 min");
  CHECK(duration_text(hours(72)) == "3 d");
}

TEST_CASE("text: every enumerator has its word") {
  CHECK(word(ClassId::config_rejected) == "config-rejected");
  CHECK(word(AlarmChange::realarmed) == "realarmed");
  CHECK(word(Why::link_lost) == "link lost");
  CHECK(word(Grade::verified_at_far_end) == "verified at far end");
}
