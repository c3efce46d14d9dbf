#include "rules/judge/room.h"

#include "rules/judge/common.h"

namespace riserkeep {
namespace {

// Printed readings have two decimals: a value that prints as the limit is not beyond it.
constexpr double kLastDigit = 1e-9;

Verdict cold(const SiteView& view, const Room& room, const RoomRule::Params& p) {
  const auto c = view.channels.value(view.site, room.temperature, view.now);
  if (!c) return room.temperature ? Verdict{cannot_tell(view, *room.temperature)} : Verdict{Clear{}};
  const Temperature now = celsius(*c);
  const bool below = now < p.cold;
  if (below || now < p.chilly) {
    Raise r;
    r.value = in_fahrenheit(now);
    r.limit = in_fahrenheit(below ? p.cold : p.chilly);
    r.unit = "F";
    r.priority = below ? Priority::high : Priority::medium;
    return r;
  }
  return now < p.chilly + p.cold_deadband ? Verdict{Hold{}} : Verdict{Clear{}};
}

Raise out_of(double percent, double limit, std::string cause) {
  Raise r;
  r.value = percent;
  r.limit = limit;
  r.unit = "%";
  r.cause = std::move(cause);
  return r;
}

Verdict oxygen(const SiteView& view, const Room& room, const RoomRule::Params& p) {
  const auto percent = view.channels.value(view.site, room.oxygen, view.now);
  if (!percent) return room.oxygen ? Verdict{cannot_tell(view, *room.oxygen)} : Verdict{Clear{}};
  if (*percent < p.least.percent() - kLastDigit) return out_of(*percent, p.least.percent(), "too little oxygen");
  if (*percent > p.most.percent() + kLastDigit) return out_of(*percent, p.most.percent(), "too much oxygen");
  const double inside = p.deadband.percent();
  const bool close = *percent < p.least.percent() + inside || *percent > p.most.percent() - inside;
  return close ? Verdict{Hold{}} : Verdict{Clear{}};
}

}  // namespace

void RoomRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  const Room& room = view.site.rooms[place.index];
  out[0] = cold(view, room, p);
  out[1] = oxygen(view, room, p);
  const std::array<std::optional<ChannelId>, 4> channels{room.oxygen, room.temperature, room.lockout, room.barometer};
  out[2] = judge_channels(view, channels, p.instrument, state.instrument);
}

}  // namespace riserkeep
