// Whose oxygen an analyser shows: a raw reading belongs to a place only after its line has flushed, and
// only as far as the last air check says.
#pragma once

#include <optional>

#include "rules/site.h"
#include "rules/venting/vent_state.h"

namespace riserkeep {

inline constexpr double kAirCheckOxygen = 0.2095;      // what the cell should read in air, fraction
inline constexpr double kAirCheckTolerance = 0.006;

// The place a reading taken at `t` belongs to; nobody's while the line flushes.
std::optional<PlaceId> attributed(const Site&, const AnalyserState&, AnalyserId, EngineTime t);
// Gas at the cell left the pipe this much earlier: delay of the line and the cell's time constant, T90 / ln 10.
Duration sample_lag(const Analyser&);
OxygenFraction span_corrected(const AnalyserState&, OxygenFraction raw);
// The port of an analyser that draws from a place.
std::optional<OutputId> port_for(const Site&, AnalyserId, PlaceId);
std::optional<OutputId> room_air_port(const Site&, AnalyserId);
std::optional<AnalyserId> analyser_of(const Site&, ChannelId);
// Takes an air check; false: outside 20.95 +- 0.6 %, the cell is at fault.
bool take_air_check(AnalyserState&, OxygenFraction raw, EngineTime at);

}  // namespace riserkeep
