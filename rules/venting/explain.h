// The vent decision in plain words, for `why` and the pages.
#pragma once

#include <optional>
#include <string>

#include "rules/view.h"

namespace riserkeep {

std::string explain_headline(const SiteView&, SystemId);                 // one sentence
std::optional<EngineTime> next_look(const SiteView&, SystemId);          // when something is due by time alone
std::string_view word(VentPhase);
std::string_view word(PurgeStage);

}  // namespace riserkeep
