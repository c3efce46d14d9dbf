// The newest of every channel, with its age and quality: what rules and permits look at.
#pragma once

#include <optional>
#include <vector>

#include "rules/archive.h"
#include "rules/reading.h"
#include "rules/site.h"
#include "rules/site_names.h"

namespace riserkeep {

struct ChannelState {
  std::optional<std::int64_t> ticks;  // of the newest reading that was not bad
  EngineTime measured;                // when that one was measured
  bool ever = false;                  // a reading that was not bad has arrived
  Quality quality = Quality::bad;     // of the newest reading of any quality
  Why why = Why::no_value;
  EngineTime heard;                   // when the newest reading of any quality was measured
  void keep(Archive& a) { a(ticks, measured, ever, quality, why, heard); }
};

class ChannelTable {
 public:
  explicit ChannelTable(std::size_t count) : states_(count) {}

  void take(const Reading&);

  // Usable now: newest reading not bad and no older than stale_after. In printed units.
  std::optional<double> value(const Site&, ChannelId, EngineTime now) const;
  std::optional<double> value(const Site&, std::optional<ChannelId>, EngineTime now) const;
  std::optional<bool> contact(const Site&, std::optional<ChannelId>, EngineTime now) const;
  std::optional<GaugePressure> pressure(const Site&, std::optional<ChannelId>, EngineTime now) const;
  // Also `good` (not merely uncertain) and younger than three polls: what a vent may rely on.
  bool good_and_fresh(const Site&, ChannelId, EngineTime now) const;
  // Why there is no value: the reading's reason, or stale.
  Why why_not(const Site&, ChannelId, EngineTime now) const;
  std::optional<Duration> age(ChannelId, EngineTime now) const;
  const ChannelState& operator[](ChannelId c) const { return states_[c.index]; }

  void rearrange(const Renumbering& n) { Renumbering::apply(states_, n.channels()); }
  void keep(Archive& a) { a(states_); }

 private:
  std::vector<ChannelState> states_;
};

}  // namespace riserkeep
