#include "rules/estimators/purge_fit.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "rules/maths.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMost = 400, kFewest = 5;
constexpr double kHorizonHours = 60.0 * 24.0;

std::optional<EngineTime> in_reach(EngineTime began, EngineTime now, double hour) {
  if (!std::isfinite(hour) || hour > in_hours(now - began) + kHorizonHours) return std::nullopt;
  return began + from_seconds(3600.0 * std::max(0.0, hour));
}

// Hours from the beginning at which the curve crosses the target, and its sd from the fit's covariance.
struct Crossing { double hours = 0, sd = 0; };
std::optional<Crossing> crossing(const ApproachFit& f, double target) {
  const double above = f.start - f.limit, left = target - f.limit;
  if (!(left > 0.0)) return std::nullopt;
  if (!(above > left)) return Crossing{};
  const double h = std::log(above / left) / f.rate;
  const std::array<double, 3> slope{(1.0 / left - 1.0 / above) / f.rate, 1.0 / above / f.rate, -h / f.rate};
  double variance = 0;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) variance += slope[i] * f.covariance[i][j] * slope[j];
  return Crossing{h, std::sqrt(std::max(0.0, variance))};
}

}  // namespace

void PurgeFit::restart(EngineTime at) {
  points_.clear();
  began_ = at;
}

void PurgeFit::add(EngineTime at, OxygenFraction x) {
  const double hour = in_hours(at - began_);
  if (points_.empty() ? hour < 0.0 : hour <= points_.back().hours) return;
  points_.push_back({hour, x.percent()});
  if (points_.size() > kMost) points_.pop_front();
}

std::optional<PurgeForecast> PurgeFit::forecast(OxygenFraction target, EngineTime now) const {
  if (points_.size() < kFewest) return std::nullopt;
  std::vector<double> t, y;
  for (const Point& p : points_) t.push_back(p.hours), y.push_back(p.percent);
  const auto f = fit_approach(t, y);
  if (!f || f->start < f->limit) return std::nullopt;
  const double q = student_t(0.975, f->df);
  PurgeForecast out;
  out.asymptote_percent = f->limit;
  out.asymptote_low95 = f->limit - q * f->limit_sd;
  out.asymptote_high95 = f->limit + q * f->limit_sd;
  out.tau_hours = 1.0 / f->rate;
  const auto c = crossing(*f, target.percent());
  if (!c) return out;
  out.target_at = in_reach(began_, now, c->hours);
  out.target_low95 = in_reach(began_, now, c->hours - q * c->sd);
  // While the limit may lie above the target nobody can promise a latest time.
  if (out.asymptote_high95 < target.percent()) out.target_high95 = in_reach(began_, now, c->hours + q * c->sd);
  return out;
}

}  // namespace riserkeep
