#include "rules/venting/venting.h"

#include <algorithm>

#include "rules/alarms/board.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr std::string_view kOperated = "the valve has probably operated";
constexpr Duration kDay = hours(24);

// In the order of the ids: the order in the site file decides nothing.
template <class I, class List>
std::vector<I> by_id(const List& list) {
  std::vector<I> out;
  for (std::size_t i = 0; i < list.size(); ++i) out.push_back(I{static_cast<std::uint16_t>(i)});
  std::sort(out.begin(), out.end(), [&](I a, I b) { return list[a.index].id < list[b.index].id; });
  return out;
}

void to_safe(const Inside& in, OutputId id, std::string why) {
  if (in.site()[id].kind == OutputKind::box_well) return;   // the shell's own: it says whether the shell is well
  order(in, id, in.site()[id].kind == OutputKind::supply_valve, seconds(10), std::move(why));
}

void count_day(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  while (!v.closings.empty() && !v.openings.empty() && v.closings.front() < in.now() - kDay) {
    v.openings.pop_front();
    v.closings.pop_front();
  }
  Duration sum{};
  for (std::size_t i = 0; i < v.openings.size(); ++i)
    sum += (i < v.closings.size() ? v.closings[i] : in.now()) - v.openings[i];
  v.open_time_today = sum;
}

void housekeep(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (!v.openings.empty()) count_day(in, id);
  if (v.ledger_unbroken && in.now() - *v.ledger_unbroken > kDay) v.ledger_unbroken.reset();
  if (in.now().time_since_epoch() % minutes(1) == Duration{}) void_if_rewired(in, id);
  if (v.locked && v.locked_why == kOperated && !in.view.alarms.standing(ClassId::valve_operated, id)) {
    v.locked = false;
    v.locked_why.clear();
  }
  if (in.site()[id].vent) {
    const OutputSeen& seen = in.output(in.site()[id].vent->output);
    (*in.twins)[id.index].vent_moved(seen.commanded_open || seen.state == OutputState::open, in.now());
  }
  if (const auto& goal = in.site()[id].purity; goal && goal->port) {
    const OutputSeen& seen = in.output(*goal->port);
    (*in.twins)[id.index].sampled(seen.commanded_open || seen.state == OutputState::open, in.now());
  }
  learn_cut_in(in, id);
}

}  // namespace

Venting::Venting(const Site& site) : state_(site) {}

void Venting::tick(const SiteView& view, std::vector<Twin>& twins, Effects& out) {
  const Inside in{view, state_, out, &twins};
  for (const OutputId id : by_id<OutputId>(view.site.outputs))
    if (in.output(id).newest_order == OrderNo{}) to_safe(in, id, "first start");
  for (const SystemId id : by_id<SystemId>(view.site.systems)) {
    housekeep(in, id);
    step_turn(in, id);
    step_proof(in, id);
  }
  for (const AnalyserId id : by_id<AnalyserId>(view.site.analysers)) step_sampler(in, id);
  give_turns(in);
}

void Venting::reading(const SiteView& view, std::vector<Twin>& twins, const Reading& r, Effects& out) {
  const Inside in{view, state_, out, &twins};
  const Site& site = view.site;
  if (view.channels[r.channel].heard != r.measured) return;   // late: a newer one stands
  const Channel& channel = site[r.channel];
  for (const SystemId id : by_id<SystemId>(site.systems)) {
    if (!vent_may_be_open(in.vent(id))) continue;
    const System& s = site[id];
    if (r.channel == s.pressure) vent_reading(in, id);
    else if (channel.place == PlaceId{id} || channel.place == PlaceId{s.room} || channel.place == PlaceId{s.supply}) {
      const Permit p = in.vent(id).phase == VentPhase::pulsing ? permit_pulse(view, id, true) : permit(view, id, true);
      if (p.permitted()) continue;
      const Refusal why = p.refusals().front();
      close_vent(in, id, std::string(why.what) + ": " + why.now);
    }
  }
  if (!r.ticks || r.quality != Quality::good) return;
  const auto oxygen = OxygenFraction::from_fraction(static_cast<double>(*r.ticks) * tick_of(channel.signal) / 100.0);
  if (channel.signal == Signal::oxygen && oxygen) take_oxygen(in, r, *oxygen);
  if (channel.signal == Signal::supply_oxygen && oxygen && channel.place.kind == PlaceKind::supply) {
    SupplyState& s = state_.supplies[channel.place.index];
    s.oxygen = oxygen;
    s.oxygen_at = r.measured;
  }
}

void Venting::resumed(const SiteView& view, Effects& out) {
  const Inside in{view, state_, out};
  for (const SystemId id : by_id<SystemId>(view.site.systems)) {
    VentState& v = in.vent(id);
    void_if_rewired(in, id);
    close_vent(in, id, "restart");
    v.ledger_unbroken.reset();
    drop_pulse(in, id, "restart");
    if (v.phase == VentPhase::closing) v.follow.closed_at = view.now;
    if (!v.pulse.by.empty()) pulse_failed(in, id, "interrupted by a restart");
  }
  for (AnalyserState& a : state_.analysers) {
    a.job = SampleJob::none;
    a.sampling.reset();
    a.not_before.reset();              // a stop may be why it failed; good inputs are waited for anyway
  }
  for (const OutputId id : by_id<OutputId>(view.site.outputs)) {
    in.output(id).state = OutputState::unknown;
    to_safe(in, id, "restart: every output to its safe state");
  }
}

void Venting::air_entered(const SiteView& view, SystemId id, std::string why, Effects& out) {
  const Inside in{view, state_, out};
  VentState& v = in.vent(id);
  drop_pulse(in, id, why);
  close_vent(in, id, std::move(why));
  v.ledger.restart();
  v.ledger_unbroken.reset();
  v.purity = PurityState{};
  v.follow.last_y.reset();
  if (v.stage != PurgeStage::none) v.stage = PurgeStage::venting;
}

void Venting::operated(const SiteView& view, SystemId id, Effects& out) {
  air_entered(view, id, std::string(kOperated), out);
  VentState& v = state_.vents[id.index];
  if (v.locked) return;
  v.locked = true;
  v.locked_why = kOperated;
}

}  // namespace riserkeep
