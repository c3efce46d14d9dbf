// What the service manager hears: READY, WATCHDOG, RELOADING, STOPPING. Silent when nobody listens.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

class Liveness {
 public:
  Liveness();
  // How often to say that we live; absent: nobody asked for it.
  std::optional<std::chrono::milliseconds> beat_every() const { return beat_; }
  void ready(const std::string& status) const;
  void beat() const;
  void reloading() const;                  // until the next ready()
  void stopping() const;

 private:
  std::optional<std::chrono::milliseconds> beat_;
};

// READY once every output was read back safe since the start, or its link found silent, or the wait is over.
class SafeStart {
 public:
  explicit SafeStart(const Site& site);
  void observed(const OutputObserved&);
  void link(const LinkChanged&);
  bool settled() const;
  std::vector<OutputId> unproven() const;   // neither read back safe nor known to be out of reach

 private:
  const Site& site_;
  std::vector<bool> safe_, link_down_;
};

}  // namespace riserkeep
