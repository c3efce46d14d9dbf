// The simulated riser room: pipes, supplies, vents, analysers, contacts. Its own equations and constants,
// none of rules/, so that what is tested against it is not tested against itself.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "drivers/plant/faults.h"
#include "drivers/plant/scenario.h"

namespace riserkeep {

// What is really so in one system. Amounts are counted since the start of the simulation.
struct Truth {
  GaugePressure pressure;
  OxygenFraction mean_oxygen, worst_oxygen, riser_oxygen, far_oxygen;  // worst: richest cell or dead leg
  Temperature gas, wall;
  PressureRate leak;              // as SystemTruth::leak, with the leaks injected since
  GaugePressure cut_in, cut_out;  // of the true switch
  Amount contents, oxygen;        // moles in the pipe now
  Amount fed, fed_oxygen, vented, vented_oxygen, leaked, leaked_oxygen, sampled, sampled_oxygen;
  int refills = 0;
  bool vent_open = false;  // gas can pass, whatever the coil says
  bool refilling = false;
  bool operated = false;  // the valve has opened, the pipe holds water
};

class SimulatedRoom {
 public:
  SimulatedRoom(const Site&, const Scenario&);  // keeps copies
  ~SimulatedRoom();
  SimulatedRoom(SimulatedRoom&&) noexcept;
  SimulatedRoom& operator=(SimulatedRoom&&) noexcept;

  // Steps of Scenario::step; a rest shorter than a step is carried to the next call, so that the way time is
  // cut into calls changes nothing.
  void advance(Duration dt);
  EngineTime now() const;  // starts at zero

  // Instrument output in the printed unit of the channel's signal, contacts 0 or 1. nullopt: dead. Noise depends
  // on seed, channel and second (step, where that is shorter) only: asking twice, or more often, changes nothing.
  std::optional<double> signal(ChannelId) const;

  void set_output(OutputId, bool open);
  bool output(OutputId) const;  // as last commanded (or fallen to safe), not as the valve is

  Truth truth(SystemId) const;
  AbsolutePressure atmosphere() const;
  OxygenFraction feed_oxygen(SupplyId) const;

  void inject(const Fault&);  // again: the new amount counts
  bool clear(const Fault&);   // amount ignored; false: was not there
  void clear_all();
  void reset_valve(SystemId);  // drained, reset, filled with air to cut-out
  const std::vector<Fault>& faults() const;
  bool unit_silent(int unit) const;  // silent unit or power cut
  bool link_silent(LinkId) const;

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace riserkeep
