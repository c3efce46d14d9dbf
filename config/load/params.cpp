#include "config/load/params.h"

#include <algorithm>

namespace riserkeep {

namespace {

template <class Rule, std::size_t At>
void append_rule(std::vector<RuleKey>& out, std::vector<std::string>& names) {
  names.emplace_back(Rule::info.name);
  std::size_t index = 0;
  for (const auto& p : Rule::params) {
    out.push_back({Rule::info.name, p.key, dimension_of(p.kind, p.high), p.fallback, p.low, p.high, p.help,
                   [](AllParams& all, const RuleKey& k, double si) {
                     std::begin(Rule::params)[static_cast<std::ptrdiff_t>(k.index)].set(std::get<At>(all), si);
                   },
                   index++});
  }
}

struct Catalogue {
  std::vector<RuleKey> keys;
  std::vector<std::string> names;

  Catalogue() { fill(static_cast<AllRules*>(nullptr)); }

  template <class... R>
  void fill(std::tuple<R...>*) {
    fill_all<R...>(std::index_sequence_for<R...>{});
  }
  template <class... R, std::size_t... At>
  void fill_all(std::index_sequence<At...>) {
    (append_rule<R, At>(keys, names), ...);
  }
};

const Catalogue& catalogue() {
  static const Catalogue all;
  return all;
}

// Names of rules and keys may be written with dashes or underscores.
std::string other_form(std::string_view name) {
  std::string out(name);
  for (char& c : out) c = c == '-' ? '_' : c == '_' ? '-' : c;
  return out;
}

std::optional<Field> get_either(Section& s, std::string_view name) {
  if (!s.has(name) && s.has(other_form(name))) return s.get(other_form(name));
  return s.get(name);
}

}  // namespace

const std::vector<RuleKey>& rule_keys() { return catalogue().keys; }
std::vector<std::string> rule_names() { return catalogue().names; }

void read_rules(AllParams& params, const std::optional<Field>& f) {
  if (!f) return;
  Section rules(*f, "{leak: {limit: 1.5 psi/24h}}");
  for (const std::string& name : catalogue().names) {
    const auto rf = get_either(rules, name);
    if (!rf) continue;
    Section s(*rf, "{limit: 1.5 psi/24h}");
    for (const RuleKey& k : catalogue().keys) {
      if (k.rule != name) continue;
      if (const auto v = get_either(s, k.key))
        if (const auto si = read_quantity(*v, k.dimension, {k.low, k.high})) k.set(params, k, *si);
    }
  }
}

}  // namespace riserkeep
