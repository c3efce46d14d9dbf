#include "rules/judge/limit.h"

#include "rules/judge/common.h"

namespace riserkeep {

void LimitRule::judge(const SiteView& view, PlaceId place, const Params& p, State&, std::span<Verdict> out) {
  const System& s = view.site.systems[place.index];
  const auto now = view.channels.pressure(view.site, s.pressure, view.now);
  if (!now) {
    out[0] = out[1] = cannot_tell(view, s.pressure);
    return;
  }
  if (*now < s.band_low) out[0] = in_psi(*now, s.band_low, {}, p.delay);
  else if (*now < s.band_low + p.deadband) out[0] = Hold{};
  else out[0] = Clear{};
  if (*now > s.band_high) out[1] = in_psi(*now, s.band_high, {}, p.delay);
  else if (*now > s.band_high - p.deadband) out[1] = Hold{};
  else out[1] = Clear{};
}

}  // namespace riserkeep
