// The relay that is on while the box is well. It drops when the loop stops renewing its lease, when somebody says
// why the box is not well, when the process stops in order, and by the device's own time-out when it dies.
// The engine neither orders nor hears of it: the relay speaks of what surrounds the engine.
#pragma once

#include <optional>
#include <string>

#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"
#include "rules/view.h"

namespace riserkeep {

class WellOutput {
 public:
  explicit WellOutput(const Site&);
  bool is(OutputId id) const { return output_ == id; }
  bool wired() const { return output_.has_value(); }

  // Once a second. `trouble`: why the box is not well, empty when it is.
  std::optional<OutputOrder> look(EngineTime now, const std::string& trouble);
  void observed(const OutputObserved&);

  // Empty while the relay is on; else why it is not.
  std::string why_off() const;

 private:
  OutputOrder made(EngineTime now, bool on);

  std::optional<OutputId> output_;
  std::uint64_t next_order_ = 1;
  std::optional<EngineTime> renewed_;
  bool on_ = false;
  OutputState seen_ = OutputState::unknown;
  std::string trouble_ = "starting";
};

// What the engine knows against it: store, messages, silent links. Empty: nothing.
std::string box_trouble(const SiteView&);

}  // namespace riserkeep
