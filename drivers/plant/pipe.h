// One pipe as a row of equal cells, each with its share of dead legs. Pressure and temperature are the same
// everywhere; only the oxygen differs from cell to cell.
#pragma once

#include <array>
#include <cstddef>

namespace riserkeep::plant {

inline constexpr int kMostCells = 60;

struct PipeShape {
  int cells = 24;
  double mixing_seconds = 4 * 3600.0;  // e-folding time of the slowest unevenness; 0 = mixed at once
  double dead_share = 0;               // of the volume
  double dead_seconds = 12 * 3600.0;   // exchange with the main
};

// Moles that move within one step.
struct PipeFlows {
  double feed = 0, feed_oxygen = 0;  // into cell 0, share of oxygen in it
  double vent = 0, leak = 0, sample = 0;
  int vent_cell = 0, leak_cell = 0, sample_cell = 0;
};

class Pipe {
 public:
  Pipe(const PipeShape&, double moles, double oxygen_share);

  void mix(double seconds);
  void flow(const PipeFlows&);  // sum of the flows well below the moles of one cell: see largest_flow()
  void refill_with(double moles, double oxygen_share);

  double moles() const { return moles_; }
  double oxygen() const;  // moles
  double share(int cell) const { return main_[index(cell)] / main_moles(); }
  double mean_share() const { return oxygen() / moles_; }
  double worst_share() const;
  double largest_flow() const { return 0.4 * main_moles(); }
  int last() const { return shape_.cells - 1; }

 private:
  static std::size_t index(int i) { return static_cast<std::size_t>(i); }
  double main_moles() const { return moles_ * (1.0 - shape_.dead_share) / shape_.cells; }
  double dead_moles() const { return moles_ * shape_.dead_share / shape_.cells; }
  void level();
  void exchange_with_dead_legs(double seconds);
  void breathe(double change);
  double at_interface(int left, double through) const;

  PipeShape shape_;
  double exchange_rate_ = 0;  // 1/s between neighbours
  double moles_;
  std::array<double, kMostCells> main_{}, dead_{}, share_{};  // moles of oxygen; share_: within one flow()
};

}  // namespace riserkeep::plant
