#include "rules/maths.h"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

namespace riserkeep {
namespace {

// Without promotion to long double the result is the same on every platform.
using Plain = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

double weight_at(std::span<const double> w, std::size_t i) { return w.empty() ? 1.0 : w[i]; }

bool fits_together(std::span<const double> x, std::span<const double> y, std::span<const double> w) {
  return x.size() == y.size() && (w.empty() || w.size() == x.size());
}

struct Approach {
  std::span<const double> t, y;
  std::optional<double> known_start;

  int parameters() const { return known_start ? 2 : 3; }

  // With the rate given the rest is linear: best limit and start, and the sum of squares they leave.
  std::optional<Eigen::Vector3d> linear_part(double rate, double& rss) const {
    Eigen::Matrix2d a = Eigen::Matrix2d::Zero();
    Eigen::Vector2d b = Eigen::Vector2d::Zero();
    for (std::size_t i = 0; i < t.size(); ++i) {
      const double decay = std::exp(-rate * t[i]);
      const Eigen::Vector2d f{1.0 - decay, decay};
      a += f * f.transpose();
      b += f * y[i];
    }
    Eigen::Vector3d p;
    if (known_start) {
      if (!(a(0, 0) > 0.0)) return std::nullopt;
      p << (b(0) - a(0, 1) * *known_start) / a(0, 0), *known_start, rate;
    } else {
      const double det = a.determinant();
      if (!(det > 1e-12 * a(0, 0) * a(1, 1))) return std::nullopt;
      p << (b(0) * a(1, 1) - b(1) * a(0, 1)) / det, (a(0, 0) * b(1) - a(0, 1) * b(0)) / det, rate;
    }
    rss = sum_of_squares(p);
    return p;
  }

  double residual(const Eigen::Vector3d& p, std::size_t i) const {
    return y[i] - p(0) - (p(1) - p(0)) * std::exp(-p(2) * t[i]);
  }

  double sum_of_squares(const Eigen::Vector3d& p) const {
    double s = 0;
    for (std::size_t i = 0; i < t.size(); ++i) s += residual(p, i) * residual(p, i);
    return s;
  }

  // Normal matrix and right side, in limit, start, rate; a pinned start has a unit row of its own.
  void normal(const Eigen::Vector3d& p, Eigen::Matrix3d& a, Eigen::Vector3d& b) const {
    a.setZero();
    b.setZero();
    for (std::size_t i = 0; i < t.size(); ++i) {
      const double decay = std::exp(-p(2) * t[i]);
      const Eigen::Vector3d j{1.0 - decay, known_start ? 0.0 : decay, -(p(1) - p(0)) * t[i] * decay};
      a += j * j.transpose();
      b += j * residual(p, i);
    }
    if (known_start) a(1, 1) = 1.0;
  }
};

std::optional<Eigen::Vector3d> best_start(const Approach& model) {
  const double span = *std::max_element(model.t.begin(), model.t.end());
  if (!(span > 0.0)) return std::nullopt;
  std::optional<Eigen::Vector3d> best;
  double least = std::numeric_limits<double>::infinity();
  for (int k = -40; k <= 40; ++k) {
    double rss = 0;
    const auto p = model.linear_part(std::pow(10.0, 0.05 * k) / span, rss);
    if (p && rss < least) {
      least = rss;
      best = p;
    }
  }
  return best;
}

// Levenberg-Marquardt with Marquardt's scaling.
std::optional<Eigen::Vector3d> refine(const Approach& model, Eigen::Vector3d p) {
  double rss = model.sum_of_squares(p), damping = 1e-3;
  for (int i = 0; i < 200; ++i) {
    Eigen::Matrix3d a;
    Eigen::Vector3d b;
    model.normal(p, a, b);
    const Eigen::Matrix3d damped = a + damping * Eigen::Matrix3d{a.diagonal().asDiagonal()};
    const Eigen::Vector3d step = damped.ldlt().solve(b);
    if (!step.allFinite()) return std::nullopt;
    const Eigen::Vector3d next = p + step;
    const double next_rss = model.sum_of_squares(next);
    const bool small = (step.array().abs() <= 1e-12 * (p.array().abs() + 1e-12)).all();
    if (next_rss <= rss) {
      p = next;
      rss = next_rss;
      damping = std::max(1e-12, damping / 10.0);
      if (small) return p;
    } else {
      if (small || damping > 1e12) return p;
      damping *= 10.0;
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> weights) {
  if (x.size() < 3 || !fits_together(x, y, weights)) return std::nullopt;
  double w = 0, mx = 0, my = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double wi = weight_at(weights, i);
    w += wi;
    mx += wi * (x[i] - mx) / w;
    my += wi * (y[i] - my) / w;
  }
  double sxx = 0, sxy = 0, syy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double wi = weight_at(weights, i), dx = x[i] - mx, dy = y[i] - my;
    sxx += wi * dx * dx;
    sxy += wi * dx * dy;
    syy += wi * dy * dy;
  }
  if (!(sxx > 0.0)) return std::nullopt;
  LineFit f;
  f.n = static_cast<int>(x.size());
  f.slope = sxy / sxx;
  f.intercept = my - f.slope * mx;
  double rss = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double r = y[i] - my - f.slope * (x[i] - mx);
    rss += weight_at(weights, i) * r * r;
  }
  f.residual_sd = std::sqrt(rss / (f.n - 2));
  f.slope_sd = f.residual_sd / std::sqrt(sxx);
  f.intercept_sd = f.residual_sd * std::sqrt(1.0 / w + mx * mx / sxx);
  f.r_squared = syy > 0.0 ? 1.0 - rss / syy : 1.0;
  return f;
}

std::optional<LineFit> fit_through_origin(std::span<const double> x, std::span<const double> y,
                                          std::span<const double> weights) {
  if (x.size() < 2 || !fits_together(x, y, weights)) return std::nullopt;
  double sxx = 0, sxy = 0, syy = 0, rss = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double wi = weight_at(weights, i);
    sxx += wi * x[i] * x[i];
    sxy += wi * x[i] * y[i];
    syy += wi * y[i] * y[i];
  }
  if (!(sxx > 0.0)) return std::nullopt;
  LineFit f;
  f.n = static_cast<int>(x.size());
  f.slope = sxy / sxx;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double r = y[i] - f.slope * x[i];
    rss += weight_at(weights, i) * r * r;
  }
  f.residual_sd = std::sqrt(rss / (f.n - 1));
  f.slope_sd = f.residual_sd / std::sqrt(sxx);
  f.r_squared = syy > 0.0 ? 1.0 - rss / syy : 1.0;
  return f;
}

double student_t(double p, double df) {
  if (df > 1e6) return quantile(boost::math::normal_distribution<double, Plain>{}, p);
  return quantile(boost::math::students_t_distribution<double, Plain>{df}, p);
}

std::optional<double> median(std::vector<double> values) {
  if (values.empty()) return std::nullopt;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

double mean_of(std::span<const double> values) {
  double mean = 0, n = 0;
  for (const double v : values) mean += (v - mean) / (n += 1.0);
  return mean;
}

double sd_of(std::span<const double> values) {
  if (values.size() < 2) return 0.0;
  const double mean = mean_of(values);
  double sum = 0;
  for (const double v : values) sum += (v - mean) * (v - mean);
  return std::sqrt(sum / static_cast<double>(values.size() - 1));
}

double lag1_autocorrelation(std::span<const double> values) {
  const double mean = mean_of(values);
  double together = 0, all = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    all += (values[i] - mean) * (values[i] - mean);
    if (i > 0) together += (values[i] - mean) * (values[i - 1] - mean);
  }
  return all > 0.0 ? together / all : 0.0;
}

std::optional<ApproachFit> fit_approach(std::span<const double> t, std::span<const double> y,
                                        std::optional<double> known_start) {
  const Approach model{t, y, known_start};
  const int n = static_cast<int>(t.size());
  if (t.size() != y.size() || n <= model.parameters()) return std::nullopt;
  const auto start = best_start(model);
  if (!start) return std::nullopt;
  const auto p = refine(model, *start);
  const double span = *std::max_element(t.begin(), t.end());
  if (!p || !p->allFinite() || !((*p)(2) * span > 0.01)) return std::nullopt;

  Eigen::Matrix3d a;
  Eigen::Vector3d b;
  model.normal(*p, a, b);
  const Eigen::Vector3d scale = a.diagonal().cwiseSqrt();
  if (!(scale.minCoeff() > 0.0)) return std::nullopt;
  const Eigen::Vector3d unscale = scale.cwiseInverse();
  const Eigen::Matrix3d scaled = unscale.asDiagonal() * a * unscale.asDiagonal();
  ApproachFit f;
  f.limit = (*p)(0), f.start = (*p)(1), f.rate = (*p)(2);
  f.rss = model.sum_of_squares(*p);
  f.df = n - model.parameters();
  const double variance = f.rss / f.df;
  f.residual_sd = std::sqrt(variance);
  Eigen::Matrix3d c = variance * (unscale.asDiagonal() * scaled.inverse() * unscale.asDiagonal());
  if (!c.allFinite()) return std::nullopt;
  if (known_start) c(1, 1) = 0.0;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) f.covariance[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = c(i, j);
  f.limit_sd = std::sqrt(c(0, 0)), f.start_sd = std::sqrt(c(1, 1)), f.rate_sd = std::sqrt(c(2, 2));
  return f;
}

}  // namespace riserkeep
