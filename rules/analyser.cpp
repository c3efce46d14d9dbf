#include "rules/analyser.h"

#include <cmath>

namespace riserkeep {

std::optional<PlaceId> attributed(const Site& site, const AnalyserState& a, AnalyserId id, EngineTime t) {
  if (!a.sampling || t - a.sampling_since < site[id].flush) return std::nullopt;
  return a.sampling;
}

Duration sample_lag(const Analyser& a) { return a.line_delay + from_seconds(in_seconds(a.t90) / 2.302585); }

OxygenFraction span_corrected(const AnalyserState& a, OxygenFraction raw) {
  return OxygenFraction::clamped(raw.fraction() * a.span);
}

std::optional<OutputId> port_for(const Site& site, AnalyserId id, PlaceId place) {
  for (const OutputId port : site[id].ports)
    if (site[port].place == place) return port;
  return std::nullopt;
}

std::optional<OutputId> room_air_port(const Site& site, AnalyserId id) {
  for (const OutputId port : site[id].ports)
    if (site[port].place.kind == PlaceKind::room) return port;
  return std::nullopt;
}

std::optional<AnalyserId> analyser_of(const Site& site, ChannelId channel) {
  for (std::size_t i = 0; i < site.analysers.size(); ++i)
    if (site.analysers[i].oxygen == channel) return AnalyserId{static_cast<std::uint16_t>(i)};
  return std::nullopt;
}

bool take_air_check(AnalyserState& a, OxygenFraction raw, EngineTime at) {
  a.air_check_failed = std::abs(raw.fraction() - kAirCheckOxygen) > kAirCheckTolerance;
  if (a.air_check_failed) return false;
  a.span = kAirCheckOxygen / raw.fraction();
  a.air_checked = at;
  return true;
}

}  // namespace riserkeep
