// The engine: deterministic and pure. Same configuration and same inputs give the same effects, byte for
// byte. Time advances in whole seconds of engine time: every second that is due runs first, at its own
// time, so that timer jitter cannot show.
#pragma once

#include <memory>
#include <optional>
#include <string>

#include "rules/effect.h"
#include "rules/input.h"
#include "rules/judge/settings.h"
#include "rules/site.h"
#include "rules/view.h"

namespace riserkeep {

class Engine {
 public:
  Engine(Site site, RuleSettings settings);
  ~Engine();
  Engine(Engine&&) noexcept;

  void step(const Stamped&, Effects& out);
  std::optional<EngineTime> next_deadline() const;
  SiteView view() const;
  const Site& site() const;
  WallTime wall(EngineTime) const;                 // label
  bool wall_known() const;

  // The answer to the last operator command: empty = done, else the reasons of the refusal.
  const std::string& refusal() const;

  void keep(Archive&);                             // sections; loading leaves what does not fit as it was built

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace riserkeep
