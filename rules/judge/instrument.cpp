#include "rules/judge/instrument.h"

#include "rules/judge/common.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr Duration kWitnessDelay = minutes(2);
constexpr Duration kNoisyDelay = minutes(30);  // one step of the pressure looks like noise for a while

Raise fault(std::string cause, std::optional<Duration> delay = {}) {
  Raise r;
  r.cause = std::move(cause);
  r.on_delay = delay;
  return r;
}

std::string_view plain(Signal s) {
  return s == Signal::auxiliary ? std::string_view{"auxiliary signal"} : info_of(s).word;
}

bool usable(const SiteView& view, ChannelId c) {
  const ChannelState& s = view.channels[c];
  return s.ticks && s.quality != Quality::bad && view.now - s.measured <= view.site[c].stale_after;
}

// Silence behind a link is the link's matter.
bool silent_behind_link(const SiteView& view, ChannelId c, Why why) {
  return view.site[c].link && (why == Why::stale || why == Why::link_lost);
}

// The low-air switch is the second witness of the gauge.
std::optional<Verdict> contradicted(const SiteView& view, const System& s, const InstrumentRule::Params& p) {
  const auto now = view.channels.pressure(view.site, s.pressure, view.now);
  const auto low = view.channels.contact(view.site, s.low_air, view.now);
  if (!now || !low) return std::nullopt;
  const PressureChange apart = *now - s.valve.low_air_switch;
  if (*low && apart > p.witness) return fault("low-air switch says low, gauge reads " + psi_text(*now), kWitnessDelay);
  if (!*low && -apart > p.witness) return fault("low-air switch is silent, gauge reads " + psi_text(*now), kWitnessDelay);
  return std::nullopt;
}

}  // namespace

Verdict judge_channels(const SiteView& view, std::span<const std::optional<ChannelId>> channels, const InstrumentParams& p,
                       InstrumentState& state) {
  bool silent = false;
  std::optional<Verdict> raise;
  for (std::size_t i = 0; i < channels.size() && i < state.bad_since.size(); ++i) {
    auto& since = state.bad_since[i];
    if (!channels[i]) continue;
    const ChannelId c = *channels[i];
    if (usable(view, c)) {
      since.reset();
      continue;
    }
    const Why why = cannot_tell(view, c).why;
    const ChannelState& seen = view.channels[c];
    const bool never = !seen.ever && seen.heard == EngineTime{};
    if (never && !view.site[c].link && view.site[c].signal != Signal::pressure) continue;  // wired to nothing, recorded by nobody
    if (silent_behind_link(view, c, why) || (never && view.site[c].link) || why == Why::flushing) {
      silent = silent || why != Why::flushing;
      continue;
    }
    if (!since) since = view.now;
    if (view.now - *since >= p.bad_for && !raise)
      raise = fault(std::string{plain(view.site[c].signal)} + ": " + std::string{word(why)});
  }
  if (raise) return *raise;
  bool waiting = silent;
  for (const auto& since : state.bad_since) waiting = waiting || since.has_value();
  return waiting ? Verdict{CannotTell{}} : Verdict{Clear{}};
}

void InstrumentRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const System& s = view.site[id];
  const std::array<std::optional<ChannelId>, 7> channels{s.pressure, s.temperature, s.low_air, s.waterflow, s.fire,
                                                         s.water_pressure, s.oxygen};
  out[0] = judge_channels(view, channels, p.instrument, state.instrument);
  if (!std::holds_alternative<Clear>(out[0])) return;
  const Twin& twin = view.twin(id);
  const PressureChange noise = twin.pressure().noise();
  if (twin.pressure_health().frozen(view.now, p.frozen_for)) out[0] = fault("pressure: frozen, not a digit moved for " + duration_text(p.frozen_for));
  else if (noise > p.noisy) out[0] = fault("pressure: noisy, " + psi_text(noise) + " from reading to reading", kNoisyDelay);
  else if (auto against = contradicted(view, s, p)) out[0] = std::move(*against);
  else if (noise > 0.8 * p.noisy) out[0] = Hold{};
}

}  // namespace riserkeep
