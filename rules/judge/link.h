// One bus or broker: `link-lost`. High when no link of the box is left: then the box is blind.
#pragma once

#include <array>

#include "rules/judge/param.h"

namespace riserkeep {

struct LinkRule {
  struct Params {
    Duration delay{};
  };
  struct State {
    void keep(Archive&) {}
  };
  static constexpr std::array<ClassId, 1> kClasses{ClassId::link_lost};
  static constexpr RuleInfo info{"link", Scope::link, kClasses};
  static constexpr std::array<ParamInfo<Params>, 1> params{{
      {"delay", ParamKind::duration, 30, 0, 3600, "silence beyond the instrument's own stale time before the alarm",
       set_si<Params, &Params::delay>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<LinkRule>);

}  // namespace riserkeep
