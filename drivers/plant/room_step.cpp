// One step of the simulated room: weather, supplies, pipes, analysers, the air of the rooms.
#include <algorithm>
#include <cmath>

#include "drivers/plant/physics.h"
#include "drivers/plant/room_inside.h"

namespace riserkeep {

namespace {
constexpr double kAirChangesPerSecond = 0.5 / 3600.0;  // of a riser room
constexpr double kHeaderDroop = 1.0e5;                 // at full flow
constexpr double kHeaderSeconds = 300;
}  // namespace

double SimulatedRoom::Inside::outside(const SystemTruth& t, const plant::Wander& w) const {
  const double hour = scenario.start_hour + in_hours(now.time_since_epoch());
  return t.wall_mean.si() + t.daily_swing.si() * plant::daily(hour) + t.weather_swing.si() * w.value();
}

void SimulatedRoom::Inside::minute() {
  ++minutes;
  barometer.minute();
  atmosphere = site.atmosphere.si() + scenario.barometer_swing.si() * barometer.value();
  for (std::size_t i = 0; i < risers.size(); ++i) {
    weather[i].minute();
    outdoors[i] = outside(scenario.systems[i], weather[i]);
  }
  for (Feed& f : feeds) f.wander.minute();
  choose_feed_oxygen();
  for (std::size_t i = 0; i < cells.size(); ++i) cells[i].drift += scenario.analysers[i].span_drift_per_day / 1440.0;
}

void SimulatedRoom::Inside::choose_feed_oxygen() {
  for (std::size_t i = 0; i < feeds.size(); ++i) {
    const SupplyTruth& t = scenario.supplies[i];
    const SupplyId id{static_cast<std::uint16_t>(i)};
    feeds[i].oxygen = std::max(0.0005, t.oxygen.fraction() + t.wander.fraction() * feeds[i].wander.value());
    if (const Fault* f = active(FaultKind::impure, id)) feeds[i].oxygen = f->amount / 100.0;
    if (any(FaultKind::air_bypass, id)) feeds[i].oxygen = plant::kAirOxygenShare;
  }
}

void SimulatedRoom::Inside::step(double elapsed) {
  while (now.time_since_epoch() / std::chrono::minutes(1) >= minutes) minute();
  step_risers(elapsed);
  step_analysers(elapsed);
  step_rooms(elapsed);
  if (!faults.empty()) drop_silent_outputs();
}

// Systems that refill at once share what the supply can give; a dead one gives nothing, whatever is asked.
void SimulatedRoom::Inside::feed_systems(std::vector<double>& flows) {
  for (Feed& f : feeds) f.demand = 0;
  for (std::size_t i = 0; i < risers.size(); ++i) {
    flows[i] = risers[i].demand(atmosphere);
    feeds[site.systems[i].supply.index].demand += flows[i];
  }
  for (std::size_t s = 0; s < feeds.size(); ++s) {
    const SupplyId id{static_cast<std::uint16_t>(s)};
    bool gives = powered() && !any(FaultKind::dead, id);
    for (std::size_t o = 0; o < site.outputs.size() && gives; ++o)
      if (site.outputs[o].kind == OutputKind::supply_valve && site.outputs[o].place == PlaceId{id}) gives = outputs[o];
    feeds[s].delivered = gives ? scenario.supplies[s].flow.si() * std::min(1.0, feeds[s].demand) : 0.0;
  }
  for (std::size_t i = 0; i < risers.size(); ++i) {
    const Feed& f = feeds[site.systems[i].supply.index];
    flows[i] = f.demand > 0 ? f.delivered * flows[i] / f.demand : 0.0;
  }
}

void SimulatedRoom::Inside::step_risers(double elapsed) {
  std::vector<double> flows(risers.size());
  feed_systems(flows);
  for (std::size_t i = 0; i < risers.size(); ++i) {
    const System& s = site.systems[i];
    plant::RiserStep in;
    in.seconds = elapsed;
    in.atmosphere = atmosphere;
    in.outside = outdoors[i];
    in.feed = flows[i];
    in.feed_oxygen = feeds[s.supply.index].oxygen;
    in.vent_commanded = s.vent && outputs[s.vent->output.index];
    in.sample = sample_drawn(i);
    in.faults = faults_of(SystemId{static_cast<std::uint16_t>(i)});
    risers[i].step(in);
  }
  const double b = -std::expm1(-elapsed / kHeaderSeconds);
  for (std::size_t s = 0; s < feeds.size(); ++s) {
    const bool dead = !powered() || any(FaultKind::dead, SupplyId{static_cast<std::uint16_t>(s)});
    const double load = std::min(1.0, feeds[s].demand);
    feeds[s].header += b * ((dead ? 0.0 : Feed::kFull - kHeaderDroop * load) - feeds[s].header);
  }
}

double SimulatedRoom::Inside::sample_drawn(std::size_t system) const {
  double sum = 0;
  for (std::size_t o = 0; o < site.outputs.size(); ++o) {
    const Output& out = site.outputs[o];
    if (!outputs[o] || out.kind != OutputKind::sample_port || !out.analyser) continue;
    if (out.place == PlaceId{SystemId{static_cast<std::uint16_t>(system)}})
      sum += scenario.analysers[out.analyser->index].sample_flow.si();
  }
  return sum;
}

// What flows into an analyser's line: the mean over its open ports; without ports, the gas of a venting system.
std::optional<double> SimulatedRoom::Inside::source_of(std::size_t analyser) const {
  const AnalyserId id{static_cast<std::uint16_t>(analyser)};
  double sum = 0;
  int n = 0;
  for (const OutputId o : site[id].ports) {
    if (!outputs[o.index]) continue;
    const PlaceId place = site[o].place;
    if (place.kind == PlaceKind::system && risers[place.index].operated()) continue;
    ++n;
    if (place.kind == PlaceKind::system)
      sum += risers[place.index].tap_share();
    else
      sum += place.kind == PlaceKind::supply ? feeds[place.index].oxygen : plant::kAirOxygenShare;
  }
  for (std::size_t i = 0; i < risers.size() && site[id].ports.empty(); ++i) {
    const System& s = site.systems[i];
    if (!s.purity || s.purity->analyser != id || risers[i].vent_rate() <= 0) continue;
    ++n;
    sum += risers[i].tap_share();
  }
  return n > 0 ? std::optional(sum / n) : std::nullopt;
}

void SimulatedRoom::Inside::step_analysers(double elapsed) {
  for (std::size_t i = 0; i < cells.size(); ++i) cells[i].line.step(elapsed, source_of(i));
}

// A well-mixed room: what the vents bring against half an air change an hour.
void SimulatedRoom::Inside::step_rooms(double elapsed) {
  for (std::size_t r = 0; r < airs.size(); ++r) {
    Air& air = airs[r];
    air.oxygen += kAirChangesPerSecond * elapsed * (plant::kAirOxygenShare - air.oxygen);
    if (!site.rooms[r].vents_into_room) continue;
    for (std::size_t i = 0; i < risers.size(); ++i)
      if (site.systems[i].room.index == r)
        air.oxygen += risers[i].vent_rate() * elapsed / air.moles * (risers[i].tap_share() - air.oxygen);
  }
}

void SimulatedRoom::Inside::drop_silent_outputs() {
  for (std::size_t o = 0; o < site.outputs.size(); ++o) {
    const Output& out = site.outputs[o];
    if (!out.link || !out.device_time_out || !any(FaultKind::silent, *out.link)) continue;
    const OutputId id{static_cast<std::uint16_t>(o)};
    if (now - silent_since[*out.link] >= *out.device_time_out) outputs[o] = safe_state(id);
  }
}

}  // namespace riserkeep
