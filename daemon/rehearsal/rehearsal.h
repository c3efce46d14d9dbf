// The engine and the simulated riser room in lockstep, without sockets or clocks: weeks in seconds,
// through the very same engine. Used by `demo` and by the property tests.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "config/site.h"
#include "drivers/plant/room.h"
#include "drivers/plant/scenario.h"
#include "rules/engine.h"

namespace riserkeep {

// How close a true pressure came to its LIMIT while a vent of that system was open.
struct Margin {
  PressureChange above_limit;
  SystemId system;
  EngineTime at;
};

class Rehearsal {
 public:
  using Watcher = std::function<void(const Timed&)>;

  // Engine time starts at `start`; the wall clock label at `wall`.
  Rehearsal(const Description&, const Scenario&, EngineTime start, WallTime wall);

  void watch(Watcher w) { watcher_ = std::move(w); }
  void record(std::function<void(const Stamped&)> r) { recorder_ = std::move(r); }  // every input from now on
  void run_for(Duration);                                   // whole seconds
  std::string command(std::string who, decltype(OperatorCommand::what));  // empty = done, else the reasons
  void feed(Input);                                         // anything else, now

  Engine& engine() { return engine_; }
  SimulatedRoom& room() { return room_; }
  EngineTime now() const { return now_; }
  const std::optional<Margin>& lowest_margin() const { return lowest_; }
  int most_vents_open() const { return most_open_; }
  std::uint64_t steps() const { return steps_; }

 private:
  struct Lease { bool open = false; OrderNo order{}; EngineTime until; };

  void begin();
  void poll_channels();
  void carry_out(const OutputOrder&);
  void enforce_leases();
  void measure_margins();

  SimulatedRoom room_;
  Engine engine_;
  EngineTime now_;
  WallTime wall_;
  bool begun_ = false;
  Watcher watcher_;
  std::function<void(const Stamped&)> recorder_;
  std::vector<Lease> leases_;
  std::optional<Margin> lowest_;
  int most_open_ = 0;
  std::uint64_t steps_ = 0;
};

}  // namespace riserkeep
