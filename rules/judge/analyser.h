// One oxygen analyser: a failed air check or no good value is an `instrument-fault`.
#pragma once

#include <array>

#include "rules/judge/instrument.h"
#include "rules/judge/param.h"

namespace riserkeep {

struct AnalyserRule {
  struct Params {
    InstrumentParams instrument;
  };
  struct State {
    InstrumentState instrument;
    void keep(Archive& a) { a(instrument); }
  };
  static constexpr std::array<ClassId, 1> kClasses{ClassId::instrument_fault};
  static constexpr RuleInfo info{"analyser", Scope::analyser, kClasses};
  static constexpr std::array<ParamInfo<Params>, 1> params{{
      {"bad_for", ParamKind::duration, 120, 5, 86400, "no good value for this long",
       [](Params& p, double si) { p.instrument.bad_for = from_seconds(si); }},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<AnalyserRule>);

}  // namespace riserkeep
