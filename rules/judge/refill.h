// How often the feed fills one system up again: `refill-frequent`.
#pragma once

#include <array>

#include "rules/judge/param.h"

namespace riserkeep {

struct RefillRule {
  struct Params {
    int per_day = 0, per_hour = 0;
  };
  struct State {
    EngineTime next;                   // counted once a minute
    int day = 0, hours = 0;
    void keep(Archive& a) { a(next, day, hours); }
  };
  static constexpr std::array<ClassId, 1> kClasses{ClassId::refill_frequent};
  static constexpr RuleInfo info{"refill", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 2> params{{
      {"per_day", ParamKind::count, 6, 1, 500, "more refills than this within 24 h; those after a venting not counted",
       set_si<Params, &Params::per_day>},
      {"per_hour", ParamKind::count, 1, 1, 60, "high above this rate, over 3 h", set_si<Params, &Params::per_hour>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<RefillRule>);

}  // namespace riserkeep
