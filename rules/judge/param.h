// Short spellings for the parameter lists of the rules: setters from SI values.
#pragma once

#include <type_traits>

#include "rules/judge/rule.h"

namespace riserkeep {

// Setter for one member of Params: quantities, durations, oxygen, plain numbers and counts.
template <class Params, auto Member>
constexpr void set_si(Params& p, double si) {
  using T = std::remove_reference_t<decltype(p.*Member)>;
  if constexpr (std::is_same_v<T, Duration>) p.*Member = from_seconds(si);
  else if constexpr (std::is_same_v<T, OxygenFraction>) p.*Member = OxygenFraction::clamped(si);
  else if constexpr (std::is_same_v<T, int>) p.*Member = static_cast<int>(si + 0.5);
  else if constexpr (std::is_same_v<T, double>) p.*Member = si;
  else p.*Member = T::from_si(si);
}

}  // namespace riserkeep
