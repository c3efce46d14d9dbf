// The vent decision in plain words, for `why` and the pages.
#pragma once

#include <optional>
#include <string>

#include "rules/view.h"

namespace riserkeep {

std::string explain_headline(const SiteView&, SystemId);                 // one sentence
std::string explain_pulse_asked(const VentState&);                       // a clause; empty: none waits
std::string explain_trip(const SiteView&, SystemId);                      // where the trip pressure comes from; empty: there is none
std::optional<EngineTime> next_look(const SiteView&, SystemId);          // when something is due by time alone
std::string_view word(VentPhase);
std::string_view word(PurgeStage);

}  // namespace riserkeep
