// One alarm's life by the second, for the tests of its states.
#pragma once

#include <doctest/doctest.h>

#include "rules/alarms/lifecycle.h"

namespace riserkeep {

using enum AlarmState;

inline AlarmClass kind(bool latching) {
  AlarmClass c = class_of(ClassId::pressure_low);
  c.on_delay = seconds(10);
  c.off_delay = seconds(5);
  c.latching = latching;
  return c;
}

inline Raise raise(std::optional<Priority> p = {}) {
  Raise r;
  r.value = 13.6;
  r.limit = 16;
  r.unit = "psi";
  r.priority = p;
  return r;
}

struct LifeBench {
  AlarmClass c;
  AlarmLifecycle life;
  EngineTime now{};
  std::uint64_t next = 1;
  explicit LifeBench(bool latching) : c(kind(latching)) {}

  std::optional<AlarmChange> feed(const Verdict& v, int for_seconds) {
    std::optional<AlarmChange> last;
    for (int i = 0; i < for_seconds; ++i) {
      now += seconds(1);
      if (const auto change = life.step(c, v, now, seconds(1), next)) last = change;
    }
    return last;
  }
  void to(AlarmState s) {
    if (s == normal) return;
    feed(raise(), 11);
    if (s == unacknowledged) return;
    if (s == acknowledged || s == latched_acknowledged) life.acknowledge("Ada");
    if (s != acknowledged) feed(Clear{}, 5);
    REQUIRE(life.state() == s);
  }
};

}  // namespace riserkeep
