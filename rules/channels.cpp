#include "rules/channels.h"

namespace riserkeep {

void ChannelTable::take(const Reading& r) {
  ChannelState& s = states_[r.channel.index];
  if (s.ever && r.measured < s.heard) return;  // late: the newer one stands
  s.heard = r.measured;
  s.quality = r.quality;
  s.why = r.why;
  if (r.quality == Quality::bad || !r.ticks) {
    s.quality = Quality::bad;
    return;
  }
  s.ticks = r.ticks;
  s.measured = r.measured;
  s.ever = true;
}

std::optional<double> ChannelTable::value(const Site& site, ChannelId c, EngineTime now) const {
  const ChannelState& s = states_[c.index];
  if (!s.ticks || s.quality == Quality::bad || now - s.measured > site[c].stale_after) return std::nullopt;
  return static_cast<double>(*s.ticks) * tick_of(site[c].signal);
}

std::optional<double> ChannelTable::value(const Site& site, std::optional<ChannelId> c, EngineTime now) const {
  return c ? value(site, *c, now) : std::nullopt;
}

std::optional<bool> ChannelTable::contact(const Site& site, std::optional<ChannelId> c, EngineTime now) const {
  const auto v = value(site, c, now);
  return v ? std::optional{*v != 0.0} : std::nullopt;
}

std::optional<GaugePressure> ChannelTable::pressure(const Site& site, std::optional<ChannelId> c, EngineTime now) const {
  const auto v = value(site, c, now);
  return v ? std::optional{psig(*v)} : std::nullopt;
}

bool ChannelTable::good_and_fresh(const Site& site, ChannelId c, EngineTime now) const {
  const ChannelState& s = states_[c.index];
  return s.ticks && s.quality == Quality::good && now - s.measured < 3 * site[c].poll;
}

Why ChannelTable::why_not(const Site& site, ChannelId c, EngineTime now) const {
  const ChannelState& s = states_[c.index];
  if (s.quality == Quality::bad) return s.why == Why::none ? Why::no_value : s.why;
  return now - s.measured > site[c].stale_after ? Why::stale : Why::none;
}

std::optional<Duration> ChannelTable::age(ChannelId c, EngineTime now) const {
  const ChannelState& s = states_[c.index];
  return s.ever ? std::optional<Duration>{now - s.measured} : std::nullopt;
}

}  // namespace riserkeep
