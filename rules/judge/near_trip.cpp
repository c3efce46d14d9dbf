#include "rules/judge/near_trip.h"

#include <algorithm>

#include "rules/judge/common.h"
#include "rules/text.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr Duration kShortestWindow = minutes(2);
constexpr Duration kEvery = seconds(5);    // between two looks at the rate
constexpr Duration kSettle = seconds(30);  // after a vent has shut, before a rate is believed

// Falling beyond the noise, over good readings that no vent of ours explains; nothing when not.
std::optional<PressureRate> fall_rate(const SiteView& view, SystemId id, Duration window) {
  const PressureTrack& track = view.twin(id).pressure();
  if (track.samples().size() < 3) return std::nullopt;
  EngineTime from = std::max(view.now - window, track.samples().front().at);
  if (const auto& ended = view.vent(id).last_venting_ended) from = std::max(from, *ended + kSettle);
  if (view.now - from < kShortestWindow) return std::nullopt;
  const auto slope = track.slope(from, view.now);
  if (!slope || slope->si() >= 0) return std::nullopt;
  const PressureRate fall = PressureRate::from_si(-slope->si());
  return fall * (view.now - from) > std::max(psi(0.2), 4.0 * track.noise()) ? std::optional{fall} : std::nullopt;
}

// The time to the trip point as a verdict. Our own vent above the floor explains its fall and shuts in time.
Verdict by_rate(const SiteView& view, SystemId id, const NearTripRule::Params& p, GaugePressure now, GaugePressure trip,
                NearTripRule::State& state) {
  if (view.now >= state.next) {
    state.fall = fall_rate(view, id, p.window);
    state.next = view.now + kEvery;
  }
  if (!state.fall) return Clear{};
  const Duration left = from_seconds((now - trip).si() / state.fall->si());
  if (left >= p.time_left * 3 / 2) return Clear{};
  if (vent_may_be_open(view, id) && now > ladder_now(view, id).floor) return Hold{};
  if (left >= p.time_left) return Hold{};
  return in_psi(now, trip, "trip point in about " + duration_text(left));
}

}  // namespace

void NearTripRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const System& s = view.site[id];
  const auto trip = trip_pressure(s, view.twin(id).water().highest(view.now));
  if (!trip) {
    out[0] = Clear{};  // losing the air alone admits no water here
    return;
  }
  const auto now = view.channels.pressure(view.site, s.pressure, view.now);
  if (!now) out[0] = cannot_tell(view, s.pressure);
  else if (*now <= *trip + p.margin) out[0] = in_psi(*now, *trip + p.margin, "trip point " + psi_text(*trip));
  else if (Verdict v = by_rate(view, id, p, *now, *trip, state); !std::holds_alternative<Clear>(v)) out[0] = std::move(v);
  else if (*now <= *trip + p.margin + p.deadband) out[0] = Hold{};
  else out[0] = Clear{};
}

}  // namespace riserkeep
