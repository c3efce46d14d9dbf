// The estimated leak of one system against the standards, and its trend over weeks: `leak`,
// `leak-growing`.
#pragma once

#include <array>
#include <deque>

#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct LeakRule {
  struct Params {
    PressureRate limit, baseline, urgent, growth;
    double deadband = 0, feed_share = 0;
    Duration low_air_in{};
  };
  struct State {
    std::deque<double> daily;          // psi in 24 h at 40 psi, newest 60 days
    std::int64_t day = 0;              // of the newest value
    std::uint8_t growing = 0;          // 0 not enough data, 1 no, 2 yes
    double first = 0, last = 0;        // of the fitted trend
    void keep(Archive& a) { a(daily, day, growing, first, last); }
  };
  static constexpr std::array<ClassId, 2> kClasses{ClassId::leak, ClassId::leak_growing};
  static constexpr RuleInfo info{"leak", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 7> params{{
      {"limit", ParamKind::pressure_rate, psi_per_day(1.5).si(), psi_per_day(0.1).si(), psi_per_day(50).si(),
       "a loss above this is a leak (NFPA 13: 1.5 psi in 24 h for new pipe)", set_si<Params, &Params::limit>},
      {"baseline", ParamKind::pressure_rate, 0, 0, psi_per_day(50).si(),
       "known and accepted loss; twice as much is a leak", set_si<Params, &Params::baseline>},
      {"urgent", ParamKind::pressure_rate, psi_per_day(36).si(), psi_per_day(2).si(), psi_per_day(500).si(),
       "high above this (NFPA 25: 3 psi in 2 h, so 36 psi in 24 h at that rate)", set_si<Params, &Params::urgent>},
      {"growth", ParamKind::pressure_rate, psi_per_day(0.5).si(), psi_per_day(0.05).si(), psi_per_day(20).si(),
       "a trend counts once the loss has grown by this much", set_si<Params, &Params::growth>},
      {"deadband", ParamKind::share, 0.2, 0.02, 0.8, "share of the limit it must fall below it", set_si<Params, &Params::deadband>},
      {"feed_share", ParamKind::share, 0.5, 0.05, 1.0, "high when the leak takes more than this share of the feed",
       set_si<Params, &Params::feed_share>},
      {"low_air_in", ParamKind::duration, 8 * 3600, 1800, 72 * 3600, "high when low air is nearer than this, unfed",
       set_si<Params, &Params::low_air_in>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<LeakRule>);

}  // namespace riserkeep
