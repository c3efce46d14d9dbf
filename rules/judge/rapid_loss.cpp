#include "rules/judge/rapid_loss.h"

#include <algorithm>

#include "rules/judge/common.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr std::size_t kReadings = 3;           // each lower than the one before
constexpr Duration kSpan = seconds(60), kLongestSpan = minutes(10);

// Fastest fall up to the newest reading, over at least kReadings steps; none unless each of the last fell.
std::optional<PressureRate> collapse(const PressureTrack& track, PressureChange least) {
  const auto& samples = track.samples();
  const std::size_t n = samples.size();
  if (n < kReadings + 1) return std::nullopt;
  for (std::size_t i = n - kReadings; i < n; ++i)
    if (samples[i].pressure >= samples[i - 1].pressure) return std::nullopt;
  const auto& last = samples.back();
  const PressureChange needed = std::max(least, 6.0 * track.noise());
  std::optional<PressureRate> fastest;
  for (std::size_t i = n - kReadings; i-- > 0;) {
    const Duration took = last.at - samples[i].at;
    if (took > (i == n - kReadings - 1 ? kLongestSpan : kSpan)) break;
    const PressureChange drop = samples[i].pressure - last.pressure;
    if (took > Duration{} && drop >= needed) fastest = std::max(fastest.value_or(PressureRate{}), drop / took);
  }
  return fastest;
}

// An open vent explains its own fall; twice as much it does not.
PressureRate explained(const SiteView& view, SystemId id, PressureRate rate) {
  if (!vent_may_be_open(view, id)) return rate;
  return std::max(rate, 2.0 * ladder_now(view, id).fastest_fall);
}

void look(const SiteView& view, SystemId id, const RapidLossRule::Params& p, RapidLossRule::State& state) {
  const auto newest = view.twin(id).pressure().newest();
  if (!newest || newest->at == state.judged) return;
  state.judged = newest->at;
  const auto rate = collapse(view.twin(id).pressure(), p.least);
  state.falling = false;
  if (!rate || *rate <= p.rate) return;
  const PressureRate limit = explained(view, id, p.rate);
  if (*rate <= limit) return;
  state.falling = true;
  state.psi_per_minute = in_psi_per_minute(*rate);
  state.limit = in_psi_per_minute(limit);
  state.collapsed = newest->at;
}

void look_for_water(const SiteView& view, SystemId id, const RapidLossRule::Params& p, RapidLossRule::State& state,
                    std::optional<GaugePressure> now) {
  const System& s = view.site[id];
  if (!state.collapsed || view.now - *state.collapsed > p.memory) return;
  const bool flow = view.channels.contact(view.site, s.waterflow, view.now).value_or(false);
  const bool water = now && *now > s.band_high + p.water_rise;
  if (!flow && !water) return;
  if (!state.operated) state.cause = flow ? "air collapsed and waterflow" : "air collapsed, then water pressure in the air line";
  state.operated = view.now;
  if (now) state.operated_psi = in_psi(*now);
}

Verdict operated(const SiteView& view, SystemId id, const RapidLossRule::Params& p, RapidLossRule::State& state,
                 std::optional<GaugePressure> now) {
  const System& s = view.site[id];
  const auto flow = view.channels.contact(view.site, s.waterflow, view.now);
  if (state.operated) {
    const bool quiet = now && *now <= s.band_high && (!s.waterflow || flow == false);
    if (!quiet) state.operated = view.now;
    const bool over = view.now - *state.operated > p.memory;
    if (!over) {
      Raise r;
      r.value = state.operated_psi;
      r.limit = in_psi(s.band_low);
      r.unit = "psi";
      r.cause = state.cause;
      return r;
    }
    state.operated.reset();
    state.collapsed.reset();
  }
  return now ? Verdict{Clear{}} : Verdict{cannot_tell(view, s.pressure)};
}

}  // namespace

void RapidLossRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const auto now = view.channels.pressure(view.site, view.site[id].pressure, view.now);
  if (now) look(view, id, p, state);
  look_for_water(view, id, p, state, now);
  if (!now) out[0] = cannot_tell(view, view.site[id].pressure);
  else if (state.falling) {
    Raise r;
    r.value = state.psi_per_minute;
    r.limit = state.limit;
    r.unit = "psi/min";
    out[0] = std::move(r);
  } else out[0] = Clear{};
  out[1] = operated(view, id, p, state, now);
}

}  // namespace riserkeep
