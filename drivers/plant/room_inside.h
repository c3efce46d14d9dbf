// State of the simulated room, shared by its three sources: life, steps and signals.
#pragma once

#include <map>
#include <optional>
#include <vector>

#include "drivers/plant/analyser.h"
#include "drivers/plant/physics.h"
#include "drivers/plant/relays.h"
#include "drivers/plant/riser.h"
#include "drivers/plant/room.h"
#include "drivers/plant/weather.h"

namespace riserkeep {

struct SimulatedRoom::Inside {
  struct Feed {
    plant::Wander wander;
    double oxygen = 0;                      // share, now
    double demand = 0;                      // sum over its systems, 0 to their number
    double delivered = 0;                   // mol/s
    static constexpr double kFull = 6.2e5;  // Pa gauge behind a generator at rest: 90 psi
    double header = kFull;
  };
  struct Cell {
    plant::SampleLine line;
    double drift = 0;  // of the span, relative
  };
  struct Air {  // of a riser room
    double moles = 0, oxygen = plant::kAirOxygenShare;
  };

  Inside(const Site&, const Scenario&);

  // steps
  void step(double elapsed);
  void minute();
  void choose_feed_oxygen();
  void feed_systems(std::vector<double>& flows);
  void step_risers(double elapsed);
  double sample_drawn(std::size_t system) const;
  void step_analysers(double elapsed);
  std::optional<double> source_of(std::size_t analyser) const;
  void step_rooms(double elapsed);
  void drop_silent_outputs();

  // signals
  std::optional<double> read(ChannelId) const;
  std::optional<double> read_system(const Channel&, std::size_t i, double noise) const;
  std::optional<double> read_supply(const Channel&, std::size_t i, double noise) const;
  std::optional<double> read_analyser(std::size_t i, double noise) const;
  double read_room(const Channel&, std::size_t i, double noise) const;
  double outside(const SystemTruth&, const plant::Wander&) const;  // K

  // faults
  const Fault* active(FaultKind, PlaceId) const;
  bool any(FaultKind kind, PlaceId place) const { return active(kind, place) != nullptr; }
  bool powered() const { return active(FaultKind::power_cut, PlaceId{}) == nullptr; }
  plant::RiserFaults faults_of(SystemId) const;
  void hold_readings(PlaceId);
  void apply(OutputId, bool open);
  bool safe_state(OutputId) const;

  Site site;
  Scenario scenario;
  EngineTime now{};
  Duration carried{};        // shorter than a step
  std::int64_t minutes = 0;  // done by minute()
  double atmosphere;         // Pa
  plant::Wander barometer;
  std::vector<plant::Wander> weather;  // per system
  std::vector<double> outdoors;        // K, per system
  std::vector<plant::Riser> risers;
  std::vector<Feed> feeds;
  std::vector<Cell> cells;
  std::vector<Air> airs;
  std::vector<bool> outputs;
  std::vector<Fault> faults;
  std::map<ChannelId, std::optional<double>> held;  // frozen instruments
  std::map<LinkId, EngineTime> silent_since;
};

}  // namespace riserkeep
