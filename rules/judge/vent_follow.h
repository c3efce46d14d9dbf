// What following the vent has found, as alarms: `vent-blocked`, `vent-stuck-open`, `output-mismatch`.
#pragma once

#include <array>

#include "rules/judge/param.h"

namespace riserkeep {

struct VentFollowRule {
  struct Params {};
  struct State {
    void keep(Archive&) {}
  };
  static constexpr std::array<ClassId, 3> kClasses{ClassId::vent_blocked, ClassId::vent_stuck_open, ClassId::output_mismatch};
  static constexpr RuleInfo info{"vent_follow", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 0> params{};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<VentFollowRule>);

}  // namespace riserkeep
