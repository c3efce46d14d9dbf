// A fall that no leak and no vent explains, and what it means with water behind it: `rapid-loss`,
// `valve-operated`.
#pragma once

#include <array>

#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct RapidLossRule {
  struct Params {
    PressureRate rate;
    PressureChange least, water_rise;
    Duration memory{};
  };
  struct State {
    EngineTime judged;                         // newest reading that was looked at
    bool falling = false;
    double psi_per_minute = 0, limit = 0;
    std::optional<EngineTime> collapsed;       // newest reading of a collapse
    std::optional<EngineTime> operated;        // newest sign of it
    double operated_psi = 0;
    std::string cause;
    void keep(Archive& a) { a(judged, falling, psi_per_minute, limit, collapsed, operated, operated_psi, cause); }
  };
  static constexpr std::array<ClassId, 2> kClasses{ClassId::rapid_loss, ClassId::valve_operated};
  static constexpr RuleInfo info{"rapid_loss", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 4> params{{
      {"rate", ParamKind::pressure_rate, psi_per_minute(3).si(), psi_per_minute(0.5).si(), psi_per_minute(60).si(),
       "a fall faster than this over three readings", set_si<Params, &Params::rate>},
      {"least", ParamKind::pressure, psi(1).si(), psi(0.2).si(), psi(10).si(),
       "and at least this much in all", set_si<Params, &Params::least>},
      {"water_rise", ParamKind::pressure, psi(10).si(), psi(2).si(), psi(100).si(),
       "after a collapse, this much above the band is water in the air line", set_si<Params, &Params::water_rise>},
      {"memory", ParamKind::duration, 600, 60, 7200, "how long a collapse and water behind it belong together",
       set_si<Params, &Params::memory>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<RapidLossRule>);

}  // namespace riserkeep
