// What the instruments of the simulated room say.
#include <algorithm>
#include <cmath>

#include "drivers/plant/physics.h"
#include "drivers/plant/room_inside.h"

namespace riserkeep {

namespace {
constexpr double kMolePerSecondPerScfm = 0.019921449;  // 60 F, 1 atm
constexpr double kWaterStarts = 5.0;                   // s after the valve has opened
constexpr double kThermometerNoise = 0.05;             // K
double contact(bool on) { return on ? 1.0 : 0.0; }
}  // namespace

std::optional<double> SimulatedRoom::Inside::read(ChannelId id) const {
  const Channel& c = site[id];
  if (!powered() || (c.link && any(FaultKind::silent, *c.link))) return std::nullopt;
  if (const auto h = held.find(id); h != held.end()) return h->second;
  const std::int64_t instant = now.time_since_epoch() / std::min(scenario.step, Duration{seconds(1)});
  const double noise = info_of(c.signal).contact ? 0.0 : plant::noise_of(scenario.seed, id.index, instant);
  switch (c.place.kind) {
    case PlaceKind::system:
      return read_system(c, c.place.index, noise);
    case PlaceKind::supply:
      return read_supply(c, c.place.index, noise);
    case PlaceKind::analyser:
      if (c.signal == Signal::oxygen) return read_analyser(c.place.index, noise);
      break;
    case PlaceKind::room:
      return read_room(c, c.place.index, noise);
    case PlaceKind::box:
    case PlaceKind::link:
      break;
  }
  return read_room(c, 0, noise);
}

std::optional<double> SimulatedRoom::Inside::read_system(const Channel& c, std::size_t i, double noise) const {
  const plant::Riser& r = risers[i];
  const SystemTruth& t = scenario.systems[i];
  const System& s = site.systems[i];
  const SystemId id{static_cast<std::uint16_t>(i)};
  const GaugePressure gauge = GaugePressure::from_si(r.gauge(atmosphere));
  switch (c.signal) {
    case Signal::pressure: {
      if (any(FaultKind::gauge_dead, id)) return std::nullopt;
      const Fault* f = active(FaultKind::gauge_offset, id);
      return in_psi(gauge + t.gauge_offset) + in_psi(t.gauge_noise) * noise + (f ? f->amount : 0.0);
    }
    case Signal::temperature:
      return r.gas_temperature() - kKelvinAtZeroCelsius + t.thermometer_offset.si() + kThermometerNoise * noise;
    case Signal::oxygen:
      return 100.0 * r.tap_share() + 0.03 * noise;
    case Signal::low_air:
      return contact(gauge <= s.valve.low_air_switch + t.low_air_error);
    case Signal::waterflow:
      return contact((r.operated() && r.waterflow_seconds() > kWaterStarts) || any(FaultKind::waterflow, id));
    case Signal::fire:
      return contact(any(FaultKind::fire, id));
    case Signal::water_pressure:
      return in_psi(GaugePressure::from_si(r.water_pressure())) + 0.2 * noise;
    case Signal::vent_open:
      return contact(r.vent_open());
    case Signal::vent_command:
      return contact(s.vent && outputs[s.vent->output.index]);
    case Signal::sample_port:
      return contact(s.purity && s.purity->port && outputs[s.purity->port->index]);
    default:
      return read_room(c, s.room.index, noise);
  }
}

std::optional<double> SimulatedRoom::Inside::read_supply(const Channel& c, std::size_t i, double noise) const {
  const Feed& f = feeds[i];
  const SupplyId id{static_cast<std::uint16_t>(i)};
  switch (c.signal) {
    case Signal::supply_pressure:
      return in_psi(GaugePressure::from_si(f.header)) + 0.1 * noise;
    case Signal::supply_oxygen:
    case Signal::oxygen:
      return 100.0 * f.oxygen + 0.02 * noise;
    case Signal::supply_flow:
      return std::max(0.0, f.delivered / kMolePerSecondPerScfm * 60.0 * (1.0 + 0.01 * noise));
    case Signal::supply_running:
      return contact(f.delivered > 0);
    case Signal::air_bypass:
      return contact(any(FaultKind::air_bypass, id));
    default:
      return read_room(c, site.supplies[i].room.index, noise);
  }
}

std::optional<double> SimulatedRoom::Inside::read_analyser(std::size_t i, double noise) const {
  const AnalyserId id{static_cast<std::uint16_t>(i)};
  if (any(FaultKind::dead, id)) return std::nullopt;
  const AnalyserTruth& t = scenario.analysers[i];
  const Fault* f = active(FaultKind::offset, id);
  return 100.0 * cells[i].line.cell() * t.span * std::max(0.0, 1.0 + cells[i].drift) + t.offset_percent +
         t.noise_percent * noise + (f ? f->amount : 0.0);
}

double SimulatedRoom::Inside::read_room(const Channel& c, std::size_t i, double noise) const {
  switch (c.signal) {
    case Signal::barometer:
      return atmosphere / 1000.0 + 0.005 * noise;
    case Signal::room_temperature: {
      const double hour = scenario.start_hour + in_hours(now.time_since_epoch());
      return scenario.room_mean.si() - kKelvinAtZeroCelsius + 1.5 * plant::daily(hour) + 0.1 * noise;
    }
    case Signal::room_oxygen:
      return 100.0 * (i < airs.size() ? airs[i].oxygen : plant::kAirOxygenShare) + 0.02 * noise;
    case Signal::lockout:
      return contact(any(FaultKind::lockout, RoomId{static_cast<std::uint16_t>(i)}));
    default:
      break;
  }
  // Nothing here moves an auxiliary instrument: it rests in the middle of its span, a contact is open.
  return info_of(c.signal).contact ? 0.0 : 0.5 * (c.span_low + c.span_high);
}

}  // namespace riserkeep
