#include "rules/judge/vent_follow.h"

#include "rules/judge/common.h"

namespace riserkeep {
namespace {

Verdict found(const SiteView& view, SystemId id, const std::optional<EngineTime>& since, const std::string& why, bool with_pressure) {
  if (!since) return Clear{};
  const System& s = view.site[id];
  const auto now = with_pressure ? view.channels.pressure(view.site, s.pressure, view.now) : std::nullopt;
  if (now) return in_psi(*now, s.air.cut_in, why);
  Raise r;
  r.cause = why;
  return r;
}

}  // namespace

void VentFollowRule::judge(const SiteView& view, PlaceId place, const Params&, State&, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const VentFindings& f = view.vent(id).findings;
  out[0] = found(view, id, f.blocked, f.blocked_why, true);
  out[1] = found(view, id, f.stuck_open, f.stuck_why, true);
  out[2] = found(view, id, f.mismatch, f.mismatch_why, false);
}

}  // namespace riserkeep
