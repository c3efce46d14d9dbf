#include "rules/judge/analyser.h"

namespace riserkeep {

void AnalyserRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const std::array<std::optional<ChannelId>, 1> channels{view.site.analysers[place.index].oxygen};
  out[0] = judge_channels(view, channels, p.instrument, state.instrument);
  if (std::holds_alternative<Raise>(out[0]) || !view.analysers[place.index].air_check_failed) return;
  Raise r;
  r.cause = "air check failed: in air it must read 20.9 +- 0.6 %";
  out[0] = std::move(r);
}

}  // namespace riserkeep
