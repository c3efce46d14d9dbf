#include "rules/judge/supply.h"

#include <algorithm>

#include "rules/judge/common.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr Duration kLongestStep = seconds(2);  // a longer pause between two ticks proves nothing

Raise minutes_raise(Duration took, Duration limit, std::string cause) {
  Raise r;
  r.value = in_hours(took) * 60;
  r.limit = in_hours(limit) * 60;
  r.unit = "min";
  r.cause = std::move(cause);
  return r;
}

GaugePressure cut_in(const SiteView& view, SystemId id) {
  const GaugePressure seen = view.vent(id).cut_in_seen, set = view.site[id].air.cut_in;
  return seen > GaugePressure{} ? std::min(seen, set) : set;
}

// Grows while the air stays below cut-in without a rise; a vent of ours that is open explains it.
void wait(const SiteView& view, SystemId id, const SupplyRule::Params& p, SupplyRule::Waiting& w, GaugePressure now, Duration step) {
  if (vent_may_be_open(view, id) || now >= cut_in(view, id) - p.below_cut_in) {
    w = {};
    return;
  }
  if (!w.from || now > *w.from + p.least_rise) w = {Duration{}, now};
  else w.proven += step;
}

// The verdict over all systems this supply feeds; the first that is not fed names it.
Verdict feeds(const SiteView& view, SupplyId supply, const SupplyRule::Params& p, SupplyRule::State& state, Duration step) {
  bool any = false, all_seen = true;
  std::optional<Verdict> raise;
  for (std::size_t i = 0; i < view.site.systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    const System& s = view.site[id];
    if (s.supply != supply) continue;
    any = true;
    const auto now = view.channels.pressure(view.site, s.pressure, view.now);
    if (!now) {
      all_seen = false;
      continue;
    }
    wait(view, id, p, state.systems[i], *now, step);
    const Duration limit = std::max(view.site[supply].refill_limit, s.cold_store ? p.cold_store : Duration{});
    const auto& running = view.twin(id).refills().current();
    if (running && view.now - running->began > limit && !raise)
      raise = minutes_raise(view.now - running->began, limit, s.name + " fills and does not get there; look at its vent too");
    if (state.systems[i].proven >= p.no_rise && !raise)
      raise = minutes_raise(state.systems[i].proven, p.no_rise, s.name + " stays at " + psi_text(*now));
  }
  if (raise) return *raise;
  return !any || all_seen ? Verdict{Clear{}} : Verdict{CannotTell{}};
}

// What this supply's oxygen is now: measured by its own meter, else the shared analyser's last word.
std::optional<OxygenFraction> feed_oxygen(const SiteView& view, SupplyId id) {
  const Supply& s = view.site[id];
  if (const auto percent = view.channels.value(view.site, s.oxygen_meter, view.now)) return oxygen_percent(*percent);
  const SupplyState& seen = view.supplies[id.index];
  if (seen.oxygen && view.now - seen.oxygen_at <= view.site.venting.feed_sample_valid) return seen.oxygen;
  return std::nullopt;
}

std::optional<OxygenFraction> strictest_target(const Site& site, SupplyId id) {
  std::optional<OxygenFraction> out;
  for (const System& s : site.systems)
    if (s.supply == id && s.purity) out = out ? std::min(*out, s.purity->target) : s.purity->target;
  return out;
}

Raise percent(OxygenFraction value, double limit, std::string cause) {
  Raise r;
  r.value = value.percent();
  r.limit = 100 * limit;
  r.unit = "% O2";
  r.cause = std::move(cause);
  return r;
}

Verdict pure_enough(const SiteView& view, SupplyId id, const SupplyRule::Params& p, std::optional<OxygenFraction> feed) {
  const auto target = strictest_target(view.site, id);
  if (!target) return Clear{};
  if (!feed) return CannotTell{};
  const double limit = target->fraction() - p.headroom.fraction();
  if (feed->fraction() > limit) return percent(*feed, limit, "target " + fixed(target->percent(), 1) + " %");
  return feed->fraction() > limit - p.deadband.fraction() ? Verdict{Hold{}} : Verdict{Clear{}};
}

Verdict air(const SiteView& view, SupplyId id, const SupplyRule::Params& p, std::optional<OxygenFraction> feed) {
  const Supply& s = view.site[id];
  const auto bypass = view.channels.contact(view.site, s.air_bypass, view.now);
  if (bypass == true) return percent(feed.value_or(kAirOxygen), p.like_air.fraction(), "air bypass is open");
  if (s.source == SupplySource::compressor) return Clear{};  // air by design
  if (feed && *feed > p.like_air) return percent(*feed, p.like_air.fraction(), {});
  if (s.air_bypass && !bypass) return cannot_tell(view, *s.air_bypass);
  return bypass || feed ? Verdict{Clear{}} : Verdict{CannotTell{}};
}

}  // namespace

void SupplyRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const SupplyId id{place.index};
  const Supply& s = view.site[id];
  if (state.systems.size() != view.site.systems.size()) state.systems.assign(view.site.systems.size(), {});
  const Duration step = state.last && view.now - *state.last <= kLongestStep ? view.now - *state.last : Duration{};
  state.last = view.now;
  out[0] = feeds(view, id, p, state, step);
  const auto feed = feed_oxygen(view, id);
  out[1] = pure_enough(view, id, p, feed);
  out[2] = air(view, id, p, feed);
  const std::array<std::optional<ChannelId>, 5> channels{s.pressure, s.air_bypass, s.running, s.flow_meter, s.oxygen_meter};
  out[3] = judge_channels(view, channels, p.instrument, state.instrument);
}

}  // namespace riserkeep
