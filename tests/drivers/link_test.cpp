#include "drivers/link.h"

#include <doctest/doctest.h>

using namespace riserkeep;
using namespace std::chrono_literals;

namespace {

// Connection attempts in `span` when every attempt fails at once. No I/O: a day takes no time.
int attempts(Backoff& backoff, SteadyTime from, std::chrono::seconds span) {
  int n = 0;
  for (SteadyTime t = from; t < from + span; t = backoff.next()) {
    backoff.failed(t);
    ++n;
  }
  return n;
}

}  // namespace

TEST_CASE("A gateway that accepts and closes is dialled at most 8 times in its first minute") {
  for (std::uint32_t seed = 0; seed < 50; ++seed) {
    Backoff backoff(1s, 60s, seed);
    CHECK(attempts(backoff, SteadyTime{1h}, 60s) <= 8);
  }
}

TEST_CASE("After a day without answer it is still tried about once a minute") {
  Backoff backoff(1s, 60s, 7);
  const int n = attempts(backoff, SteadyTime{1h}, 24h);
  CHECK(n > 24 * 60 * 9 / 11);
  CHECK(n < 24 * 60 + 10);
}

TEST_CASE("Fifty outages one after another are all treated alike") {
  Backoff backoff(1s, 60s, 3);
  for (int i = 0; i < 50; ++i) {
    const SteadyTime start{std::chrono::hours(i + 1)};
    const int n = attempts(backoff, start, 300s);
    CHECK(n >= 9);
    CHECK(n <= 11);
    backoff.succeeded();
    CHECK(backoff.due(start));
  }
}

TEST_CASE("The pause is jittered by at most a tenth and never shorter than asked") {
  for (std::uint32_t seed = 0; seed < 200; ++seed) {
    Backoff backoff(1s, 60s, seed);
    const SteadyTime now{1h};
    backoff.failed(now);
    CHECK(backoff.next() - now >= 1s);
    CHECK(backoff.next() - now <= 1100ms);
  }
}

TEST_CASE("A link says up and down only when it changes") {
  LinkState link;
  CHECK(link.silent() == LinkState::Said::down);
  CHECK(link.silent() == LinkState::Said::nothing);
  CHECK(link.replied() == LinkState::Said::up);
  CHECK(link.replied() == LinkState::Said::nothing);
  CHECK(link.silent() == LinkState::Said::down);
}
