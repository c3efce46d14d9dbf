// x(t) = x_inf + (x0 - x_inf) exp(-t / tau) fitted to the oxygen of a purge: time to target with
// interval, and the asymptote with interval.
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

struct PurgeForecast {
  double asymptote_percent = 0, asymptote_low95 = 0, asymptote_high95 = 0;
  double tau_hours = 0;
  std::optional<EngineTime> target_at, target_low95, target_high95;  // absent: not reached within 60 days
};

class PurgeFit {
 public:
  void restart(EngineTime at);
  void add(EngineTime at, OxygenFraction x);   // one value per venting, or per 10 min of a sweep
  std::optional<PurgeForecast> forecast(OxygenFraction target, EngineTime now) const;  // 5 values or more
  std::size_t count() const { return points_.size(); }
  void keep(Archive& a) { a(points_, began_); }

 private:
  struct Point { double hours = 0, percent = 0; void keep(Archive& a) { a(hours, percent); } };
  std::deque<Point> points_;                   // newest 400
  EngineTime began_;
};

}  // namespace riserkeep
