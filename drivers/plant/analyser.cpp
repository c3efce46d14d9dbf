#include "drivers/plant/analyser.h"

#include <cmath>

namespace riserkeep::plant {

SampleLine::SampleLine(double line_seconds, double t90_seconds, double oxygen_share)
    : line_seconds_(line_seconds),
      t90_seconds_(t90_seconds),
      cell_(oxygen_share) {
  tanks_.fill(oxygen_share);
}

void SampleLine::step(double seconds, std::optional<double> source) {
  if (source) {
    const double a = line_seconds_ > 0 ? -std::expm1(-seconds * kTanks / line_seconds_) : 1.0;
    double entering = *source;
    for (double& tank : tanks_) {
      tank += a * (entering - tank);
      entering = tank;
    }
  }
  // 90 % of a step after t90: tau = t90 / ln 10.
  const double b = t90_seconds_ > 0 ? -std::expm1(-seconds * std::log(10.0) / t90_seconds_) : 1.0;
  cell_ += b * (tanks_.back() - cell_);
}

}  // namespace riserkeep::plant
