// What is true in the simulated riser room and what the site file cannot know. Everything random is drawn
// from the seed, so that a scenario is repeatable.
#pragma once

#include <cstdint>
#include <vector>

#include "rules/quantities.h"
#include "rules/site.h"
#include "rules/time.h"
#include "rules/units.h"

namespace riserkeep {

struct SystemTruth {
  Volume volume = litres(1500);
  PressureRate leak = psi_per_day(0.5);  // over the first 24 h, from 40 psi gauge at 21 C and one standard atmosphere
  double leak_at = 0.5;                  // 0 = riser, 1 = far end
  double mixing_hours = 4;               // e-folding time of the slowest unevenness along the pipe; 0 = mixed at once
  double dead_leg_share = 0;             // of the volume, 0 to 0.5
  double dead_leg_hours = 12;            // their exchange time with the main
  OxygenFraction initial_oxygen = kAirOxygen;
  double initial_fill = 0.6;  // 0 = at cut-in, 1 = at cut-out
  Temperature wall_mean = celsius(18);
  TemperatureChange daily_swing{};    // half of peak to peak
  TemperatureChange weather_swing{};  // standard deviation of the slow part
  double wall_lag_hours = 1;          // wall behind the outside
  double gas_lag_seconds = 45;        // gas behind the wall; 0 = always at wall temperature
  PressureChange cut_in_error{}, cut_out_error{}, low_air_error{};  // true switch minus site file
  PressureChange gauge_offset{}, gauge_noise = psi(0.03);           // noise: standard deviation
  TemperatureChange thermometer_offset{};
  double vent_discharge = 0.85;  // true coefficient of the orifice
};

struct SupplyTruth {
  MolarFlow flow = MolarFlow::from_si(0.06);  // about 3 scfm; all systems together
  OxygenFraction oxygen = oxygen_percent(0.6);
  OxygenFraction wander = oxygen_percent(0.1);  // standard deviation, slow
};

struct AnalyserTruth {
  double span = 1.0;  // reading = span * truth + offset
  double offset_percent = 0.0;
  double noise_percent = 0.03;                         // standard deviation
  double span_drift_per_day = 0.0;                     // galvanic cells lose span: -0.01 = 1 % a day
  MolarFlow sample_flow = MolarFlow::from_si(3.5e-4);  // about 0.5 L/min, lost from the pipe while a port is open
};

struct Scenario {
  std::uint64_t seed = 1;
  std::vector<SystemTruth> systems;  // as Site::systems, and so on
  std::vector<SupplyTruth> supplies;
  std::vector<AnalyserTruth> analysers;
  int cells = 24;                                                 // along each pipe, 1 to 60
  Duration step = seconds(1);                                     // of the ODE, 100 ms to 5 s
  double start_hour = 0;                                          // time of day at EngineTime zero
  PressureChange barometer_swing = PressureChange::from_si(500);  // standard deviation
  Temperature room_mean = celsius(16);
  bool valves_trip = true;      // a dry valve opens below its true trip pressure
  PressureChange trip_error{};  // true trip minus the one computed from the site
};

// A plausible room for any site, every figure drawn from the seed. Volumes of the site file are taken as true.
Scenario default_scenario(const Site&, std::uint64_t seed);

// The room of the demo: an air-filled dock, a leaking loft, a tight cold store, a double-interlock archive (ids
// loading-dock, roof-void, freezer, archive). Systems with other ids are as in default_scenario.
Scenario demo_scenario(const Site&);

}  // namespace riserkeep
