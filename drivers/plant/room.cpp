#include "drivers/plant/room.h"

#include <algorithm>

#include "drivers/plant/physics.h"
#include "drivers/plant/room_inside.h"

namespace riserkeep {

namespace {
enum Purpose : std::uint64_t { for_barometer = 1, for_weather, for_feed };
constexpr double kWeatherHours = 30, kBarometerHours = 40, kFeedHours = 12;

// A scenario may list fewer systems than the site; what is missing is as default-constructed.
template <class Truth, class Listed>
void fit(std::vector<Truth>& truths, const std::vector<Listed>& listed) {
  truths.resize(listed.size());
}

double travel_of(const Site& site, const System& s) {
  return s.vent ? in_seconds(site[s.vent->output].valve_travel) : 1.0;
}
}  // namespace

SimulatedRoom::Inside::Inside(const Site& s, const Scenario& given)
    : site(s),
      scenario(given),
      atmosphere(s.atmosphere.si()),
      barometer(plant::mixed_seed(given.seed, for_barometer, 0), kBarometerHours) {
  fit(scenario.systems, site.systems);
  fit(scenario.supplies, site.supplies);
  fit(scenario.analysers, site.analysers);
  scenario.step = std::clamp(scenario.step, Duration{100}, Duration{5000});
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    weather.emplace_back(plant::mixed_seed(scenario.seed, for_weather, i), kWeatherHours);
    outdoors.push_back(scenario.systems[i].wall_mean.si());
    risers.emplace_back(site.systems[i], scenario, scenario.systems[i], atmosphere, travel_of(site, site.systems[i]));
  }
  for (std::size_t i = 0; i < site.supplies.size(); ++i)
    feeds.push_back({plant::Wander(plant::mixed_seed(scenario.seed, for_feed, i), kFeedHours)});
  for (const Analyser& a : site.analysers)
    cells.push_back({plant::SampleLine(in_seconds(a.line_delay), in_seconds(a.t90), plant::kAirOxygenShare)});
  for (const Room& r : site.rooms) {
    const double volume = r.volume ? r.volume->si() : 30.0;
    airs.push_back({plant::gas_moles(atmosphere, volume, scenario.room_mean.si())});
  }
  for (std::size_t i = 0; i < site.outputs.size(); ++i)
    outputs.push_back(safe_state(OutputId{static_cast<std::uint16_t>(i)}));
  minute();
}

bool SimulatedRoom::Inside::safe_state(OutputId id) const { return site[id].kind == OutputKind::supply_valve; }

void SimulatedRoom::Inside::apply(OutputId id, bool open) {
  const auto& link = site[id].link;
  if (!powered() || (link && any(FaultKind::silent, *link))) return;
  outputs[id.index] = open;
}

const Fault* SimulatedRoom::Inside::active(FaultKind kind, PlaceId place) const {
  for (const Fault& f : faults)
    if (f.kind == kind && f.place == place) return &f;
  return nullptr;
}

plant::RiserFaults SimulatedRoom::Inside::faults_of(SystemId id) const {
  plant::RiserFaults out;
  if (faults.empty()) return out;
  if (const Fault* f = active(FaultKind::leak, id)) out.extra_leak = psi(f->amount).si();
  if (const Fault* f = active(FaultKind::vent_blocked, id)) out.vent_lost = f->amount / 100.0;
  out.vent_stuck = any(FaultKind::vent_stuck, id);
  out.sprinkler_open = any(FaultKind::sprinkler_open, id);
  return out;
}

// A frozen instrument goes on saying what it said when it froze.
void SimulatedRoom::Inside::hold_readings(PlaceId place) {
  for (std::size_t i = 0; i < site.channels.size(); ++i) {
    const ChannelId id{static_cast<std::uint16_t>(i)};
    const Signal s = site[id].signal;
    const bool gauge = place.kind == PlaceKind::system && s == Signal::pressure;
    const bool cell = place.kind == PlaceKind::analyser && s == Signal::oxygen;
    if (site[id].place == place && (gauge || cell) && !held.contains(id)) held[id] = read(id);
  }
}

SimulatedRoom::SimulatedRoom(const Site& site, const Scenario& scenario)
    : inside_(std::make_unique<Inside>(site, scenario)) {}
SimulatedRoom::~SimulatedRoom() = default;
SimulatedRoom::SimulatedRoom(SimulatedRoom&&) noexcept = default;
SimulatedRoom& SimulatedRoom::operator=(SimulatedRoom&&) noexcept = default;

EngineTime SimulatedRoom::now() const { return inside_->now; }
std::optional<double> SimulatedRoom::signal(ChannelId id) const { return inside_->read(id); }
void SimulatedRoom::set_output(OutputId id, bool open) { inside_->apply(id, open); }
bool SimulatedRoom::output(OutputId id) const { return inside_->outputs.at(id.index); }
AbsolutePressure SimulatedRoom::atmosphere() const { return AbsolutePressure::from_si(inside_->atmosphere); }
const std::vector<Fault>& SimulatedRoom::faults() const { return inside_->faults; }

OxygenFraction SimulatedRoom::feed_oxygen(SupplyId id) const {
  return OxygenFraction::clamped(inside_->feeds.at(id.index).oxygen);
}

void SimulatedRoom::advance(Duration dt) {
  Inside& in = *inside_;
  in.carried += dt;
  while (in.carried >= in.scenario.step) {
    in.carried -= in.scenario.step;
    in.now += in.scenario.step;
    in.step(in_seconds(in.scenario.step));
  }
}

void SimulatedRoom::inject(const Fault& fault) {
  Inside& in = *inside_;
  clear(fault);
  if (fault.kind == FaultKind::gauge_frozen || fault.kind == FaultKind::frozen) in.hold_readings(fault.place);
  if (fault.kind == FaultKind::silent) in.silent_since[LinkId{fault.place.index}] = in.now;
  in.faults.push_back(fault);
  in.choose_feed_oxygen();
  if (fault.kind != FaultKind::power_cut) return;
  for (std::size_t i = 0; i < in.outputs.size(); ++i)
    in.outputs[i] = in.safe_state(OutputId{static_cast<std::uint16_t>(i)});
}

bool SimulatedRoom::clear(const Fault& fault) {
  Inside& in = *inside_;
  const bool by_amount = fault.kind == FaultKind::unit_silent;
  const auto gone = std::erase_if(in.faults, [&](const Fault& f) {
    return f.kind == fault.kind && f.place == fault.place && (!by_amount || f.amount == fault.amount);
  });
  if (fault.kind == FaultKind::gauge_frozen || fault.kind == FaultKind::frozen)
    std::erase_if(in.held, [&](const auto& h) { return in.site[h.first].place == fault.place; });
  in.choose_feed_oxygen();
  return gone > 0;
}

void SimulatedRoom::clear_all() {
  inside_->faults.clear();
  inside_->held.clear();
  inside_->choose_feed_oxygen();
}

void SimulatedRoom::reset_valve(SystemId id) { inside_->risers.at(id.index).reset_valve(inside_->atmosphere); }

bool SimulatedRoom::unit_silent(int unit) const {
  return std::any_of(inside_->faults.begin(), inside_->faults.end(), [unit](const Fault& f) {
    return f.kind == FaultKind::power_cut || (f.kind == FaultKind::unit_silent && static_cast<int>(f.amount) == unit);
  });
}

bool SimulatedRoom::link_silent(LinkId link) const {
  return !inside_->powered() || inside_->any(FaultKind::silent, link);
}

Truth SimulatedRoom::truth(SystemId id) const {
  const Inside& in = *inside_;
  const plant::Riser& r = in.risers.at(id.index);
  const plant::Amounts& a = r.amounts();
  Truth t;
  t.pressure = GaugePressure::from_si(r.gauge(in.atmosphere));
  t.mean_oxygen = OxygenFraction::clamped(r.pipe().mean_share());
  t.worst_oxygen = OxygenFraction::clamped(r.pipe().worst_share());
  t.riser_oxygen = OxygenFraction::clamped(r.pipe().share(0));
  t.far_oxygen = OxygenFraction::clamped(r.pipe().share(r.pipe().last()));
  t.gas = Temperature::from_si(r.gas_temperature());
  t.wall = Temperature::from_si(r.wall_temperature());
  t.leak = PressureRate::from_si(plant::loss_of_hole(r.leak_area(in.faults_of(id)), r.volume()) / plant::kDaySeconds);
  t.cut_in = GaugePressure::from_si(r.cut_in());
  t.cut_out = GaugePressure::from_si(r.cut_out());
  t.contents = Amount::from_si(r.pipe().moles());
  t.oxygen = Amount::from_si(r.pipe().oxygen());
  t.fed = Amount::from_si(a.fed), t.fed_oxygen = Amount::from_si(a.fed_oxygen);
  t.vented = Amount::from_si(a.vented), t.vented_oxygen = Amount::from_si(a.vented_oxygen);
  t.leaked = Amount::from_si(a.leaked), t.leaked_oxygen = Amount::from_si(a.leaked_oxygen);
  t.sampled = Amount::from_si(a.sampled), t.sampled_oxygen = Amount::from_si(a.sampled_oxygen);
  t.refills = r.refills();
  t.vent_open = r.vent_open() && in.faults_of(id).vent_lost < 1.0;
  t.refilling = r.refilling();
  t.operated = r.operated();
  return t;
}

}  // namespace riserkeep
