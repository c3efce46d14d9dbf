// One supply of nitrogen or air: `supply-failed`, `supply-purity-low`, `supply-is-air`, and its own
// instruments.
#pragma once

#include <array>
#include <vector>

#include "rules/judge/instrument.h"
#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct SupplyRule {
  struct Params {
    Duration no_rise{}, cold_store{};
    PressureChange below_cut_in, least_rise;
    OxygenFraction headroom, deadband, like_air;
    InstrumentParams instrument;
  };
  // A system below its cut-in that nothing fills. Time counts on good readings only.
  struct Waiting {
    Duration proven{};
    std::optional<GaugePressure> from;
    void keep(Archive& a) { a(proven, from); }
  };
  struct State {
    std::vector<Waiting> systems;      // by system of the site
    std::optional<EngineTime> last;
    InstrumentState instrument;
    void keep(Archive& a) { a(systems, last, instrument); }
  };
  static constexpr std::array<ClassId, 4> kClasses{ClassId::supply_failed, ClassId::supply_purity_low, ClassId::supply_is_air,
                                                   ClassId::instrument_fault};
  static constexpr RuleInfo info{"supply", Scope::supply, kClasses};
  static constexpr std::array<ParamInfo<Params>, 8> params{{
      {"no_rise", ParamKind::duration, 1800, 60, 14400, "air below cut-in this long without a rise",
       set_si<Params, &Params::no_rise>},
      {"cold_store", ParamKind::duration, 3600, 60, 14400, "longest refill of a cold store (NFPA 13: 60 min)",
       set_si<Params, &Params::cold_store>},
      {"below_cut_in", ParamKind::pressure, psi(2).si(), psi(0.2).si(), psi(10).si(),
       "this far below cut-in the feed should have come on", set_si<Params, &Params::below_cut_in>},
      {"least_rise", ParamKind::pressure, psi(0.5).si(), psi(0.05).si(), psi(5).si(), "a rise of this much is an effect",
       set_si<Params, &Params::least_rise>},
      {"headroom", ParamKind::oxygen, 0.005, 0, 0.05, "the feed's oxygen must be this much below the target's",
       set_si<Params, &Params::headroom>},
      {"deadband", ParamKind::oxygen, 0.001, 0, 0.01, "how far below the limit it must come back", set_si<Params, &Params::deadband>},
      {"like_air", ParamKind::oxygen, 0.15, 0.05, 0.2, "a feed with more oxygen than this is air", set_si<Params, &Params::like_air>},
      {"bad_for", ParamKind::duration, 120, 5, 86400, "an instrument without a good value for this long",
       [](Params& p, double si) { p.instrument.bad_for = from_seconds(si); }},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<SupplyRule>);

}  // namespace riserkeep
