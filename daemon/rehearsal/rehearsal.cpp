#include "daemon/rehearsal/rehearsal.h"

#include <cmath>

#include "rules/venting/measure.h"

namespace riserkeep {

Rehearsal::Rehearsal(const Description& d, const Scenario& scenario, EngineTime start, WallTime wall)
    : room_(d.site, scenario), engine_(d.site, d.rules), now_(start), wall_(wall), leases_(d.site.outputs.size()) {}

void Rehearsal::begin() {
  if (begun_) return;
  begun_ = true;
  feed(WallMapped{wall_.ms - now_.time_since_epoch().count(), true});
  feed(Resumed{true});
  for (std::size_t i = 0; i < engine_.site().links.size(); ++i)
    feed(LinkChanged{LinkId{static_cast<std::uint16_t>(i)}, true});
}

void Rehearsal::run_for(Duration d) {
  begin();
  for (const EngineTime end = now_ + d; now_ < end;) {
    now_ += seconds(1);
    room_.advance(seconds(1));
    enforce_leases();
    poll_channels();
    feed(Elapsed{});
    measure_margins();
  }
}

std::string Rehearsal::command(std::string who, decltype(OperatorCommand::what) what) {
  feed(OperatorCommand{std::move(who), std::move(what)});
  return engine_.refusal();
}

void Rehearsal::feed(Input input) {
  Effects effects;
  const Stamped stamped{Seq{++steps_}, now_, std::move(input)};
  if (recorder_) recorder_(stamped);
  engine_.step(stamped, effects);
  for (const Timed& t : effects) {
    if (watcher_) watcher_(t);
    if (const auto* order = std::get_if<OutputOrder>(&t.effect)) carry_out(*order);
  }
}

void Rehearsal::poll_channels() {
  const Site& site = engine_.site();
  for (std::size_t i = 0; i < site.channels.size(); ++i) {
    const Channel& channel = site.channels[i];
    if (channel.place.kind == PlaceKind::system && channel.signal == Signal::oxygen) continue;  // the engine's to attribute
    if (now_.time_since_epoch() % std::max(channel.poll, Duration{seconds(1)}) != Duration{}) continue;
    Reading r{ChannelId{static_cast<std::uint16_t>(i)}, now_, std::nullopt, Quality::bad, Why::no_value};
    if (const auto value = room_.signal(r.channel)) {
      r.ticks = std::llround(*value / tick_of(channel.signal));
      r.quality = Quality::good;
      r.why = Why::none;
    } else if (!channel.link) {
      continue;  // nothing is wired there
    }
    feed(r);
  }
}

void Rehearsal::carry_out(const OutputOrder& o) {
  Lease& lease = leases_[o.output.index];
  if (o.order < lease.order || (o.open && now_ > o.not_after)) return;
  if (o.renewal && !lease.open) return;
  lease = {o.open, o.order, o.lease_until};
  room_.set_output(o.output, o.open);
  if (o.renewal) return;
  feed(OutputObserved{o.output, o.order, OutputOutcome::confirmed, o.open ? OutputState::open : OutputState::shut});
}

void Rehearsal::enforce_leases() {
  for (std::size_t i = 0; i < leases_.size(); ++i) {
    Lease& lease = leases_[i];
    if (!lease.open || now_ <= lease.until) continue;
    const OutputId output{static_cast<std::uint16_t>(i)};
    lease.open = false;
    room_.set_output(output, false);
    feed(OutputObserved{output, lease.order, OutputOutcome::expired, OutputState::shut});
  }
}

void Rehearsal::measure_margins() {
  const Site& site = engine_.site();
  int open = 0;
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    const System& system = site.systems[i];
    if (!system.vent || !leases_[system.vent->output.index].open) continue;
    ++open;
    const Ladder l = ladder_now(engine_.view(), id);
    const PressureChange above = room_.truth(id).pressure - l.limit;
    if (!lowest_ || above < lowest_->above_limit) lowest_ = Margin{above, id, now_};
  }
  most_open_ = std::max(most_open_, open);
}

}  // namespace riserkeep
