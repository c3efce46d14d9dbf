// Parameters of every rule, for the site and for systems that differ. Filled by config/ from R::params.
#pragma once

#include <map>
#include <tuple>

#include "rules/judge/all_rules.h"

namespace riserkeep {

template <class... R>
std::tuple<typename R::Params...> params_of(std::tuple<R...>*);
using AllParams = decltype(params_of(static_cast<AllRules*>(nullptr)));

// Every parameter at its fallback.
template <class R>
typename R::Params fallback_params() {
  typename R::Params params;
  for (const auto& info : R::params) info.set(params, info.fallback);
  return params;
}

template <class... R>
std::tuple<typename R::Params...> fallback_params_of(std::tuple<R...>*) { return {fallback_params<R>()...}; }

inline AllParams default_params() { return fallback_params_of(static_cast<AllRules*>(nullptr)); }

struct RuleSettings {
  AllParams everywhere = default_params();
  std::map<SystemId, AllParams> systems;   // whole sets: everywhere plus what the system overrides
};

}  // namespace riserkeep
