// What the vent decision measures of one system: content, rates, feed.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rules/venting/ladder.h"
#include "rules/view.h"

namespace riserkeep {

// In the order of the ids: the order in the site file decides nothing.
std::vector<SystemId> systems_by_id(const Site&);

// With the learned rate, the cut-in as seen and the highest water pressure of the last 7 days.
Ladder ladder_now(const SiteView&, SystemId);

// Pa absolute, at 20 C where the gas temperature is measured: proportional to the moles in the pipe.
double content_of(const SiteView&, SystemId, GaugePressure);
std::optional<double> content_now(const SiteView&, SystemId);   // mean of the last seconds
Duration content_window(const SiteView&, SystemId);
double share_vented_per_second(const SiteView&, SystemId);      // k: learned, else by bore and volume; 0: unknown
bool refilling(const SiteView&, SystemId);
bool supply_refilling(const SiteView&, SupplyId);
std::optional<EngineTime> last_refill_ended(const SiteView&, SystemId);

struct Feed {
  OxygenFraction oxygen;
  bool measured = false, measurable = false;   // measurable: an analyser or meter could tell
  EngineTime at;
};
Feed feed_of(const SiteView&, SupplyId);
// What the ledger may take the feed for: measured lately; as configured only where nothing can measure it.
std::optional<OxygenFraction> feed_for_ledger(const SiteView&, SupplyId);
// Purest and current feed of a system as fractions.
std::optional<OxygenFraction> target_of(const SiteView&, SystemId);
bool busy(const VentState&);                   // has the turn, in whatever phase
bool vent_may_be_open(const VentState&);

}  // namespace riserkeep
