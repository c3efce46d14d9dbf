// The purge and what it holds: `purity-low`, `purity-stall`, `purge-overdue`.
#pragma once

#include <array>

#include "rules/judge/param.h"

namespace riserkeep {

struct PurgeRule {
  struct Params {
    Duration verified_within{}, overdue_medium{}, proof_age{};
  };
  struct State {
    void keep(Archive&) {}
  };
  static constexpr std::array<ClassId, 3> kClasses{ClassId::purity_low, ClassId::purity_stall, ClassId::purge_overdue};
  static constexpr RuleInfo info{"purge", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 3> params{{
      {"verified_within", ParamKind::duration, 21 * 86400, 60, 365 * 86400, "a purge should be verified this long after its start",
       set_si<Params, &Params::verified_within>},
      {"overdue_medium", ParamKind::duration, 14 * 86400, 60, 365 * 86400, "medium once it is overdue by this much",
       set_si<Params, &Params::overdue_medium>},
      {"proof_age", ParamKind::duration, 35 * 86400, 60, 365 * 86400, "a verification grows old after this",
       set_si<Params, &Params::proof_age>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<PurgeRule>);

}  // namespace riserkeep
