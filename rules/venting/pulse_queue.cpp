// Commissionings that wait for the turn: another vent is at work, a refill runs, or the feed came too soon.
#include <algorithm>

#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr Duration kLongest = hours(2);
constexpr int kTries = 3;                    // pulses, of which the feed may spoil all but the last
constexpr std::string_view kTurn = "turn", kRefill = "refill";

bool of_the_turn(const Refusal& r) { return r.what == kTurn || r.what == kRefill; }

}  // namespace

bool waits_for_turn_only(const std::vector<Refusal>& refusals) {
  return !refusals.empty() && std::all_of(refusals.begin(), refusals.end(), of_the_turn);
}

void ask_pulse(const Inside& in, SystemId id, std::string by, std::string waits_for) {
  VentState& v = in.vent(id);
  in.note(id, "commissioning asked for by " + by + "; it starts at the next free turn: " + waits_for);
  v.pulse_asked = PulseAsked{std::move(by), std::move(waits_for), in.now(), v.pulse_asked ? v.pulse_asked->tries : 0};
}

void drop_pulse(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  if (!v.pulse_asked) return;
  in.note(id, "the commissioning that " + v.pulse_asked->by + " asked for is dropped: " + std::move(why));
  v.pulse_asked.reset();
}

bool put_off_pulse(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (v.pulse.tries + 1 >= kTries) return false;
  const std::string by = v.pulse.by;
  const int tries = v.pulse.tries + 1;
  v.pulse.by.clear();
  close_vent(in, id, "the feed started before the fall could be measured");
  ask_pulse(in, id, by, "the feed started before the fall could be measured, so first the pipe is filled");
  v.pulse_asked->tries = tries;
  return true;
}

bool give_pulse(const Inside& in, SupplyId supply) {
  std::vector<SystemId> asked;
  for (std::size_t i = 0; i < in.site().systems.size(); ++i)
    if (in.state.vents[i].pulse_asked && in.site().systems[i].supply == supply) asked.push_back(SystemId{static_cast<std::uint16_t>(i)});
  std::sort(asked.begin(), asked.end(), [&](SystemId a, SystemId b) {
    const auto &x = *in.vent(a).pulse_asked, &y = *in.vent(b).pulse_asked;
    return x.since != y.since ? x.since < y.since : in.site()[a].id < in.site()[b].id;
  });
  bool waits = false;
  for (const SystemId id : asked) {
    if (in.now() - in.vent(id).pulse_asked->since > kLongest) {
      drop_pulse(in, id, "no free turn within " + duration_text(kLongest) + "; ask again");
      continue;
    }
    if (busy(in.vent(id))) {
      waits = true;
      continue;
    }
    const auto refusals = permit_pulse(in.view, id, false).refusals();
    if (refusals.empty() && start_pulse(in, id)) return true;
    waits = waits || refusals.empty() || waits_for_turn_only(refusals);
  }
  return waits;
}

}  // namespace riserkeep
