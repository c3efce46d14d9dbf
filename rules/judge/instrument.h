// Instruments that cannot be believed: `instrument-fault`. Range, NAMUR NE 43 bands and "no value" codes
// arrive as the reading's own quality; here they get their time, and frozen, noisy and contradicted
// gauges are found. A silent device behind a link is the link's alarm, not the instrument's.
#pragma once

#include <array>
#include <span>

#include "rules/judge/param.h"
#include "rules/units.h"

namespace riserkeep {

struct InstrumentParams {
  Duration bad_for{};
};

// How long each of a place's channels has been bad.
struct InstrumentState {
  std::array<std::optional<EngineTime>, 8> bad_since{};
  void keep(Archive& a) { a(bad_since); }
};

// Of the channels of one place: raise when one has been bad for long; cannot tell while it is silent
// behind a link; clear when all are good. `channels` at most 8; absent ones are skipped.
Verdict judge_channels(const SiteView&, std::span<const std::optional<ChannelId>> channels, const InstrumentParams&,
                       InstrumentState&);

struct InstrumentRule {
  struct Params {
    InstrumentParams instrument;
    Duration frozen_for{};
    PressureChange noisy, witness;
  };
  struct State {
    InstrumentState instrument;
    void keep(Archive& a) { a(instrument); }
  };
  static constexpr std::array<ClassId, 1> kClasses{ClassId::instrument_fault};
  static constexpr RuleInfo info{"instrument", Scope::system, kClasses};
  static constexpr std::array<ParamInfo<Params>, 4> params{{
      {"bad_for", ParamKind::duration, 120, 5, 86400, "no good value for this long",
       [](Params& p, double si) { p.instrument.bad_for = from_seconds(si); }},
      {"frozen_for", ParamKind::duration, 3600, 60, 86400, "not a digit moved for this long, though it used to",
       set_si<Params, &Params::frozen_for>},
      {"noisy", ParamKind::pressure, psi(1).si(), psi(0.1).si(), psi(10).si(),
       "standard deviation of one reading above this", set_si<Params, &Params::noisy>},
      {"witness", ParamKind::pressure, psi(3).si(), psi(0.5).si(), psi(20).si(),
       "gauge and low-air switch may disagree by this much", set_si<Params, &Params::witness>},
  }};
  static void judge(const SiteView&, PlaceId, const Params&, State&, std::span<Verdict> out);
};
static_assert(Rule<InstrumentRule>);

}  // namespace riserkeep
