// rules: - what a site or a system changes of the rules. Nothing here knows any rule: R::info and R::params say it all.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "config/load/units.h"
#include "rules/judge/settings.h"

namespace riserkeep {

struct RuleKey {
  std::string_view rule, key;
  Dimension dimension;
  double fallback, low, high;  // SI
  std::string_view help;
  void (*set)(AllParams&, const RuleKey&, double si);
  std::size_t index;  // in the rule's own list
};

// Every parameter of every rule, in the order of AllRules.
const std::vector<RuleKey>& rule_keys();
std::vector<std::string> rule_names();
void read_rules(AllParams&, const std::optional<Field>&);

}  // namespace riserkeep
