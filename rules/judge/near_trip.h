// Close to the trip pressure, or there soon at the present rate: `near-trip`.
#pragma once

#include <array>

#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct NearTripRule {
  struct Params {
    PressureChange margin, deadband;
    Duration time_left{}, window{};
  };
  struct State {
    EngineTime next;                   // the rate is taken every few seconds
    std::optional<PressureRate> fall;
    void keep(Archive& a) { a(next, fall); }
  };
  static constexpr std::array<ClassId, 1> kClasses{ClassId::near_trip};
  static constexpr RuleInfo info{"near_trip", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 4> params{{
      {"margin", ParamKind::pressure, psi(5).si(), psi(0.5).si(), psi(20).si(),
       "this close to the trip pressure is critical", set_si<Params, &Params::margin>},
      {"deadband", ParamKind::pressure, psi(1).si(), psi(0.1).si(), psi(5).si(),
       "how far above the margin it must come back", set_si<Params, &Params::deadband>},
      {"time_left", ParamKind::duration, 1800, 120, 14400, "critical when the trip point is nearer than this at the present rate",
       set_si<Params, &Params::time_left>},
      {"window", ParamKind::duration, 300, 120, 900, "the present rate is taken over this time", set_si<Params, &Params::window>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<NearTripRule>);

}  // namespace riserkeep
