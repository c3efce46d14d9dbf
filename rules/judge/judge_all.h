// Every rule at every place of its scope, once a second of engine time, in one fixed order.
#pragma once

#include <tuple>
#include <vector>

#include "rules/alarms/board.h"
#include "rules/archive.h"
#include "rules/judge/settings.h"
#include "rules/site_names.h"
#include "rules/view.h"

namespace riserkeep {

class Judges {
 public:
  explicit Judges(const Site&);
  // `observed`: how much time this tick stands for; 0 after a gap or a restart.
  void tick(const SiteView&, const RuleSettings&, AlarmBoard&, EngineTime at, Duration observed, Effects& out);
  void rearrange(const Renumbering&);      // after a restore: to the numbers of the present site
  void keep(Archive&);

 private:
  template <class... R>
  static std::tuple<std::vector<typename R::State>...> states_of(std::tuple<R...>*);
  using States = decltype(states_of(static_cast<AllRules*>(nullptr)));
  States states_;                    // by rule, then by place
};

// How many places of this scope the site has.
std::size_t places(const Site&, Scope);
PlaceKind kind_of(Scope);
bool judged_at(ClassId, PlaceKind);   // whether any rule judges this class at such places

}  // namespace riserkeep
