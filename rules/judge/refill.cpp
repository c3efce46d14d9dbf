#include "rules/judge/refill.h"

#include "rules/judge/common.h"
#include "rules/text.h"

namespace riserkeep {

void RefillRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const System& s = view.site[id];
  if (!view.channels.pressure(view.site, s.pressure, view.now)) {
    out[0] = cannot_tell(view, s.pressure);
    return;
  }
  if (view.now >= state.next) {
    const RefillWatch& refills = view.twin(id).refills();
    state.next = view.now + minutes(1);
    state.day = refills.leak_refills_within(hours(24), view.now);
    state.hours = refills.leak_refills_within(hours(3), view.now);
  }
  if (state.day > p.per_day) {
    Raise r;
    r.value = state.day;
    r.limit = p.per_day;
    r.unit = "refills in 24 h";
    if (state.hours > 3 * p.per_hour) {
      r.priority = Priority::high;
      r.cause = fixed(state.hours, 0) + " within 3 h";
    }
    out[0] = std::move(r);
  } else if (state.day == p.per_day) out[0] = Hold{};
  else out[0] = Clear{};
}

}  // namespace riserkeep
