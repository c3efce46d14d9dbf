#include "drivers/plant/pipe.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace riserkeep::plant {

Pipe::Pipe(const PipeShape& shape, double moles, double oxygen_share) : shape_(shape), moles_(moles) {
  shape_.cells = std::clamp(shape_.cells, 1, kMostCells);
  // The slowest mode of n cells without flow through the ends decays at 2 k (1 - cos(pi / n)).
  if (shape_.cells > 1 && shape_.mixing_seconds > 0)
    exchange_rate_ = 1.0 / (2.0 * shape_.mixing_seconds * (1.0 - std::cos(std::numbers::pi / shape_.cells)));
  refill_with(moles, oxygen_share);
}

void Pipe::refill_with(double moles, double oxygen_share) {
  moles_ = moles;
  main_.fill(0);
  dead_.fill(0);
  std::fill_n(main_.begin(), shape_.cells, main_moles() * oxygen_share);
  std::fill_n(dead_.begin(), shape_.cells, dead_moles() * oxygen_share);
}

double Pipe::oxygen() const {
  double sum = 0;
  for (int i = 0; i < shape_.cells; ++i) sum += main_[index(i)] + dead_[index(i)];
  return sum;
}

double Pipe::worst_share() const {
  double worst = 0;
  for (int i = 0; i < shape_.cells; ++i) {
    worst = std::max(worst, share(i));
    if (shape_.dead_share > 0) worst = std::max(worst, dead_[index(i)] / dead_moles());
  }
  return worst;
}

void Pipe::level() {
  double sum = 0;
  for (int i = 0; i < shape_.cells; ++i) sum += main_[index(i)];
  std::fill_n(main_.begin(), shape_.cells, sum / shape_.cells);
}

void Pipe::mix(double seconds) {
  if (shape_.dead_share > 0) exchange_with_dead_legs(seconds);
  if (shape_.cells == 1) return;
  const double exchange = exchange_rate_ * seconds;
  if (shape_.mixing_seconds <= 0 || exchange > 8.0) return level();
  const int rounds = 1 + static_cast<int>(exchange / 0.4);  // explicit: stable below 0.5
  const double k = exchange / rounds;
  for (int r = 0; r < rounds; ++r) {
    double carried = 0;
    for (int i = 0; i + 1 < shape_.cells; ++i) {
      const double to_next = k * (main_[index(i)] - main_[index(i + 1)]);
      main_[index(i)] += carried - to_next;
      carried = to_next;
    }
    main_[index(shape_.cells - 1)] += carried;
  }
}

void Pipe::exchange_with_dead_legs(double seconds) {
  const double both = 1.0 / (main_moles() + dead_moles());
  const double k = -std::expm1(-seconds / shape_.dead_seconds) * main_moles() * dead_moles() * both;
  for (int i = 0; i < shape_.cells; ++i) {
    const double moved = k * (main_[index(i)] / main_moles() - dead_[index(i)] / dead_moles());
    main_[index(i)] -= moved;
    dead_[index(i)] += moved;
  }
}

// Dead legs fill and empty with the pressure: their moles are always the same share of all.
void Pipe::breathe(double change) {
  const double into = change * shape_.dead_share / shape_.cells;
  for (int i = 0; i < shape_.cells; ++i) {
    const double oxygen = into * (into > 0 ? share_[index(i)] : dead_[index(i)] / dead_moles());
    main_[index(i)] -= oxygen;
    dead_[index(i)] += oxygen;
  }
}

// Second order upwind with the minmod limiter (LeVeque, Finite Volume Methods, 2002, ch. 6): sharp fronts
// without new extremes.
double Pipe::at_interface(int left, double through) const {
  const int from = through > 0 ? left : left + 1;
  const double x = share_[index(from)];
  if (from == 0 || from == shape_.cells - 1) return x;
  const double back = x - share_[index(from - 1)], ahead = share_[index(from + 1)] - x;
  if (back * ahead <= 0) return x;
  const double slope = std::abs(back) < std::abs(ahead) ? back : ahead;
  const double courant = std::abs(through) / main_moles();
  return x + (through > 0 ? 0.5 : -0.5) * (1.0 - courant) * slope;
}

void Pipe::flow(const PipeFlows& f) {
  const double change = f.feed - f.vent - f.leak - f.sample;
  for (int i = 0; i < shape_.cells; ++i) share_[index(i)] = share(i);
  if (shape_.dead_share > 0) breathe(change);
  const double kept = change / shape_.cells;  // what every cell and its dead leg keep of it
  double through = f.feed, carried = f.feed * f.feed_oxygen;
  for (int i = 0; i < shape_.cells; ++i) {
    double out = 0;
    if (i == f.vent_cell) out += f.vent;
    if (i == f.leak_cell) out += f.leak;
    if (i == f.sample_cell) out += f.sample;
    double& here = main_[index(i)];
    here += carried - out * share_[index(i)];
    through -= out + kept;
    if (i + 1 == shape_.cells) break;
    carried = through * at_interface(i, through);
    here -= carried;
  }
  moles_ += change;
}

}  // namespace riserkeep::plant
