// One system of the simulated room: pipe, temperature, air maintenance device, vent, leak, dry valve.
#pragma once

#include <optional>

#include "drivers/plant/pipe.h"
#include "drivers/plant/scenario.h"
#include "rules/site.h"

namespace riserkeep::plant {

struct RiserFaults {
  double extra_leak = 0;  // Pa in 24 h, as SystemTruth::leak
  bool vent_stuck = false;
  double vent_lost = 0;  // share of the bore, 0 to 1
  bool sprinkler_open = false;
};

struct RiserStep {
  double seconds = 1;
  double atmosphere = 101325;  // Pa
  double outside = 291.15;     // K: what the wall follows
  double feed = 0;             // mol/s now offered to this system
  double feed_oxygen = 0;
  bool vent_commanded = false;
  double sample = 0;  // mol/s wanted by an analyser
  RiserFaults faults;
};

struct Amounts {  // moles since the start
  double fed = 0, fed_oxygen = 0, vented = 0, vented_oxygen = 0, leaked = 0, leaked_oxygen = 0, sampled = 0,
         sampled_oxygen = 0;
};

class Riser {
 public:
  Riser(const System&, const Scenario&, const SystemTruth&, double atmosphere, double valve_travel_seconds);

  double demand(double atmosphere);  // 0 to 1 of what the supply can give; works the switches
  void step(const RiserStep&);
  void reset_valve(double atmosphere);

  double gauge(double atmosphere) const;  // Pa, of gas or of the water that has come in
  double gas_temperature() const { return gas_; }
  double wall_temperature() const { return wall_; }
  const Pipe& pipe() const { return pipe_; }
  const Amounts& amounts() const { return amounts_; }
  double tap_share() const { return pipe_.share(vent_cell_); }
  double vent_rate() const { return vent_rate_; }  // mol/s in the last step
  bool vent_open() const { return opening_ > 0.0; }
  bool refilling() const { return refilling_; }
  int refills() const { return refills_; }
  bool operated() const { return water_seconds_.has_value(); }
  double waterflow_seconds() const { return water_seconds_.value_or(0); }
  double leak_area(const RiserFaults&) const;  // m2, without an open head
  double cut_in() const { return cut_in_; }
  double cut_out() const { return cut_out_; }
  double volume() const { return volume_; }
  double water_pressure() const { return water_; }

 private:
  void move_vent(const RiserStep&);
  void move_gas(const RiserStep&, double seconds);
  void exchange_heat(const PipeFlows&, double before, double seconds);
  double pressure() const;

  double volume_, leak_area_, cut_in_, cut_out_, vent_area_ = 0, travel_seconds_;
  double gas_lag_, wall_lag_, water_;
  std::optional<double> trip_;  // Pa gauge
  bool regulated_;
  Pipe pipe_;
  int vent_cell_ = 0, leak_cell_ = 0;
  double gas_, wall_;  // K
  Amounts amounts_;
  double opening_ = 0, vent_rate_ = 0;
  bool refilling_ = false;
  int refills_ = 0;
  std::optional<double> water_seconds_;
};

}  // namespace riserkeep::plant
