// The room around valves and people: `room-cold`, `room-oxygen`, and its own instruments.
#pragma once

#include <array>

#include "rules/judge/instrument.h"
#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct RoomRule {
  struct Params {
    Temperature cold, chilly;
    TemperatureChange cold_deadband;
    OxygenFraction least, most, deadband;
    InstrumentParams instrument;
  };
  struct State {
    InstrumentState instrument;
    void keep(Archive& a) { a(instrument); }
  };
  static constexpr std::array<ClassId, 3> kClasses{ClassId::room_cold, ClassId::room_oxygen, ClassId::instrument_fault};
  static constexpr RuleInfo info{"room", Scope::room, kClasses};
  static constexpr std::array<ParamInfo<Params>, 7> params{{
      {"cold", ParamKind::temperature, fahrenheit(40).si(), fahrenheit(32).si(), fahrenheit(60).si(),
       "high below this (NFPA 25: valve enclosures at least 40 F)", set_si<Params, &Params::cold>},
      {"chilly", ParamKind::temperature, fahrenheit(45).si(), fahrenheit(32).si(), fahrenheit(70).si(),
       "medium below this", set_si<Params, &Params::chilly>},
      {"cold_deadband", ParamKind::temperature, 1.0, 0.1, 5.0, "kelvin it must warm up above the limit",
       set_si<Params, &Params::cold_deadband>},
      {"least_oxygen", ParamKind::oxygen, 0.195, 0.18, 0.205, "nobody enters below this (29 CFR 1910.146: 19.5 %)",
       set_si<Params, &Params::least>},
      {"most_oxygen", ParamKind::oxygen, 0.235, 0.215, 0.25, "nor above this (29 CFR 1910.146: 23.5 %)",
       set_si<Params, &Params::most>},
      {"oxygen_deadband", ParamKind::oxygen, 0.002, 0, 0.01, "how far inside the limits it must come back",
       set_si<Params, &Params::deadband>},
      {"bad_for", ParamKind::duration, 120, 5, 86400, "an instrument without a good value for this long",
       [](Params& p, double si) { p.instrument.bad_for = from_seconds(si); }},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<RoomRule>);

}  // namespace riserkeep
