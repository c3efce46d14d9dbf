// The supervisory band of one system: `pressure-low` and `pressure-high`.
#pragma once

#include <array>

#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct LimitRule {
  struct Params {
    PressureChange deadband;
    Duration delay{};
  };
  struct State {
    void keep(Archive&) {}
  };
  static constexpr std::array<ClassId, 2> kClasses{ClassId::pressure_low, ClassId::pressure_high};
  static constexpr RuleInfo info{"limit", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 2> params{{
      {"deadband", ParamKind::pressure, psi(0.5).si(), psi(0.05).si(), psi(5).si(),
       "how far inside the band the pressure must come back", set_si<Params, &Params::deadband>},
      {"delay", ParamKind::duration, 60, 0, 900, "time outside the band, on good readings, before the alarm",
       set_si<Params, &Params::delay>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<LimitRule>);

}  // namespace riserkeep
