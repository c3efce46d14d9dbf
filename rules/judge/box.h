// The box itself: `history-fault`, `messages-undelivered`, `clock-unsure`, `config-rejected`.
#pragma once

#include <array>

#include "rules/judge/param.h"

namespace riserkeep {

struct BoxRule {
  struct Params {};
  struct State {
    void keep(Archive&) {}
  };
  // In the order of BoxPart.
  static constexpr std::array<ClassId, 4> kClasses{ClassId::history_fault, ClassId::messages_undelivered, ClassId::clock_unsure,
                                                   ClassId::config_rejected};
  static constexpr RuleInfo info{"box", Scope::box, kClasses};
  static constexpr std::array<ParamInfo<Params>, 0> params{};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<BoxRule>);

}  // namespace riserkeep
