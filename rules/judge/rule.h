// What a rule is: a pure function from the view to one verdict per alarm class it answers for.
#pragma once

#include <concepts>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>

#include "rules/archive.h"
#include "rules/ids.h"
#include "rules/reading.h"
#include "rules/view.h"

namespace riserkeep {

struct Clear {};                       // good evidence that all is well
struct Hold {};                        // inside the deadband: whatever stands keeps standing
struct CannotTell { Why why = Why::no_value; };  // no evidence: never raises, clears or repeats
struct Raise {
  double value = 0, limit = 0;
  std::string_view unit;
  std::optional<Priority> priority;    // else the class's own
  std::string cause;                   // short words, may be empty
  std::optional<Duration> on_delay;    // else the class's own
};
using Verdict = std::variant<Clear, Hold, CannotTell, Raise>;

// Kind of a parameter: decides which units the site file accepts for it.
enum class ParamKind : std::uint8_t { pressure, pressure_rate, duration, temperature, oxygen, share, count };

// One tunable of a rule. `fallback`, `low`, `high` in SI (Pa, Pa/s, s, K, fraction); bounds inclusive.
template <class Params>
struct ParamInfo {
  std::string_view key;
  ParamKind kind;
  double fallback, low, high;
  std::string_view help;
  void (*set)(Params&, double si);
};

enum class Scope : std::uint8_t { system, supply, room, link, box, analyser };

struct RuleInfo {
  std::string_view name;               // also of its file, test and page
  Scope scope;
  std::span<const ClassId> classes;    // judge() fills one verdict each, in this order
};

template <class R>
concept Rule = std::default_initializable<typename R::State> && std::default_initializable<typename R::Params> &&
    requires(const SiteView& v, PlaceId place, const typename R::Params& p, typename R::State& s, Archive& a,
             std::span<Verdict> out) {
      { R::info } -> std::convertible_to<const RuleInfo&>;
      { std::span<const ParamInfo<typename R::Params>>{R::params} };
      R::judge(v, place, p, s, out);   // once a second of engine time
      s.keep(a);
    };

}  // namespace riserkeep
