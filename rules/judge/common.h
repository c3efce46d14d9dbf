// What several rules need: a reason for not telling, raises in psi.
#pragma once

#include <optional>
#include <string>

#include "rules/judge/rule.h"
#include "rules/units.h"

namespace riserkeep {

inline CannotTell cannot_tell(const SiteView& view, ChannelId c) {
  const Why why = view.channels.why_not(view.site, c, view.now);
  return {why == Why::none ? Why::no_value : why};
}

inline Raise in_psi(GaugePressure value, GaugePressure limit, std::string cause = {}, std::optional<Duration> on_delay = {}) {
  Raise r;
  r.value = in_psi(value);
  r.limit = in_psi(limit);
  r.unit = "psi";
  r.cause = std::move(cause);
  r.on_delay = on_delay;
  return r;
}

inline SystemId system_of(PlaceId p) { return SystemId{p.index}; }

// Open, or not proved shut: what a fall of the pressure may come from.
inline bool vent_may_be_open(const SiteView& view, SystemId s) {
  const auto& vent = view.site[s].vent;
  if (!vent) return false;
  const OutputSeen& seen = view.outputs[vent->output.index];
  const VentPhase phase = view.vent(s).phase;
  return seen.commanded_open || seen.state == OutputState::open || phase == VentPhase::opening ||
         phase == VentPhase::venting || phase == VentPhase::closing || phase == VentPhase::pulsing;
}

}  // namespace riserkeep
