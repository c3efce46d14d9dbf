// What to read next. Pure: time is an argument, nothing here touches the bus.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "config/wiring.h"
#include "drivers/link.h"

namespace riserkeep {

// One read request. Only points that touch or share registers are read together: a gap may be a hole in the
// device's map, and one hole fails the whole request.
struct PollGroup {
  int unit = 1;
  RegisterTable table{};
  int address = 0, count = 1;
  Duration interval{};
  std::vector<std::size_t> points;       // indices of the bus's point list, by address
  SteadyTime due{};
  int refusals = 0;                      // in a row, by the device (exception 1, 2 or 3)
  bool disabled = false;                 // a single point that the device does not have
};

// `polls` holds the poll interval of each point. Cap: 125 registers or 1000 bits a request.
std::vector<PollGroup> group_points(std::span<const RegisterPoint> points, std::span<const Duration> polls);

// The two halves of a group of several points, so that one bad point does not cost the others.
std::vector<PollGroup> halves(const PollGroup& group, std::span<const RegisterPoint> points);

// Keeps the grid: the next due time is a multiple of the interval after the first, however late this one was.
// Returns the number of polls that were missed altogether.
int advance(PollGroup& group, SteadyTime now);

// Serial Modbus has no transaction ids: a late answer passes for the answer to the next request of the same
// shape (function and length). After a lost answer the next data read must wait until a probe has been
// answered whose shape no data read of the unit has, and which differs from the probes lost before it.
struct Probe {
  RegisterTable table{};
  int address = 0, count = 1;
};

class Resync {
 public:
  // All data reads of this unit (build anew when they change); `coils` are the outputs that are read back one by one; `spare_register` is a
  // holding register to try when the unit has no register points.
  Resync(std::span<const PollGroup> groups_of_unit, std::span<const int> coils, int spare_register);

  bool needed() const { return needed_; }
  void lost() { needed_ = true; }
  void answered() { needed_ = false; }   // by data of the probe's length or by its exception
  const Probe& next_probe();             // another shape at every call

 private:
  void offer(std::vector<std::pair<int, int>>& taken, const Probe& probe);
  std::vector<Probe> probes_;
  std::size_t turn_ = 0;
  bool needed_ = false;
};

}  // namespace riserkeep
