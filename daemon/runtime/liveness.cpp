#include "daemon/runtime/liveness.h"

#include <systemd/sd-daemon.h>
#include <time.h>

namespace riserkeep {

Liveness::Liveness() {
  std::uint64_t microseconds = 0;
  if (sd_watchdog_enabled(0, &microseconds) > 0 && microseconds > 0)
    beat_ = std::chrono::milliseconds(microseconds / 3000 + 1);
}

void Liveness::ready(const std::string& status) const { sd_notify(0, ("READY=1\nSTATUS=" + status).c_str()); }
void Liveness::beat() const { sd_notify(0, "WATCHDOG=1"); }
void Liveness::reloading() const {
  timespec t{};
  clock_gettime(CLOCK_MONOTONIC, &t);
  const auto microseconds = std::int64_t{t.tv_sec} * 1'000'000 + t.tv_nsec / 1000;   // asked for since systemd 253
  sd_notify(0, ("RELOADING=1\nMONOTONIC_USEC=" + std::to_string(microseconds) + "\nSTATUS=taking over a new site file\nWATCHDOG=1").c_str());
}
void Liveness::stopping() const { sd_notify(0, "STOPPING=1"); }

SafeStart::SafeStart(const Site& site)
    : site_(site), safe_(site.outputs.size(), false), link_down_(site.links.size(), false) {}

void SafeStart::observed(const OutputObserved& seen) {
  const bool supply = site_[seen.output].kind == OutputKind::supply_valve;
  safe_[seen.output.index] = seen.state == (supply ? OutputState::open : OutputState::shut);
}

void SafeStart::link(const LinkChanged& change) { link_down_[change.link.index] = !change.up; }

std::vector<OutputId> SafeStart::unproven() const {
  std::vector<OutputId> list;
  for (std::size_t i = 0; i < safe_.size(); ++i) {
    const auto& link = site_.outputs[i].link;
    if (!safe_[i] && link && !link_down_[link->index]) list.push_back(OutputId{static_cast<std::uint16_t>(i)});
  }
  return list;
}

bool SafeStart::settled() const { return unproven().empty(); }

}  // namespace riserkeep
