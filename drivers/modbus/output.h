// The outputs of one bus: which of their bus calls comes next. Bus thread only.
#pragma once

#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "config/wiring.h"
#include "drivers/instrument.h"
#include "drivers/lease.h"
#include "drivers/link.h"
#include "rules/site.h"

namespace riserkeep {

struct BusOutput {
  CoilOutput wiring;
  OutputLease lease;
  bool fresh = false;                // a return to safe not tried yet: passes the device's backoff once
  SteadyTime not_before{};           // a return that did not work is tried again once a second
  SteadyTime next_check{};           // at rest, read back every 10 s: somebody else may have moved it
};

class OutputDesk {
 public:
  OutputDesk(const Site&, std::vector<CoilOutput>);

  bool has(OutputId) const;
  void order(const OutputOrder&, EngineTime now);
  void enforce(EngineTime now, SteadyTime steady);   // leases and checks that are due
  // The output whose call comes next: returns to safe first, then confirmations, then openings and renewals.
  // `reachable` tells whether a unit may be tried now.
  BusOutput* next(SteadyTime now, const std::function<bool(int unit)>& reachable);
  void done(BusOutput&, BusCall, CallResult, bool coil_on, SteadyTime now);

  std::span<BusOutput> all() { return outputs_; }
  std::vector<BusOutput*> of_unit(int unit);
  std::optional<EngineTime> next_deadline() const;
  std::optional<SteadyTime> next_retry(SteadyTime now) const;   // the first time to come, not those passed
  std::vector<OutputObserved> take_observed();

 private:
  std::vector<BusOutput> outputs_;
};

}  // namespace riserkeep
