// Who earns the turn: most oxygen removed per standard litre and minute, with a limit on waiting.
#pragma once

#include <optional>
#include <vector>

#include "rules/view.h"

namespace riserkeep {

// Oxygen removed per second of the feed's time, arbitrary unit: (y - xs) q t / (1.4 t + 300 s + flush if the
// analyser changes), q = bore area x absolute pressure, t = length of the venting. Smith's ratio rule (1956):
// worth over time. 0: nothing known or nothing to gain.
double worth(const SiteView&, SystemId);
// Among permitted systems of one supply. Who waited longer than the starvation limit goes first, longest first;
// then the greatest worth; ties by id.
std::optional<SystemId> next(const SiteView&, const std::vector<SystemId>& permitted);

}  // namespace riserkeep
