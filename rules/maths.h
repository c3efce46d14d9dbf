// Small fits and quantiles with their uncertainty, for the estimators. Everything in double, no state.
// Checked against NIST StRD (Norris, NoInt1, Misra1a, BoxBOD) and Student t tables in tests/published.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <vector>

namespace riserkeep {

struct LineFit {
  double intercept = 0, slope = 0;
  double intercept_sd = 0, slope_sd = 0, residual_sd = 0;
  double r_squared = 0;
  int n = 0;
};

// y = intercept + slope x by least squares, weights optional (empty: all 1; as 1/variance). Absent: fewer
// than 3 points, lengths that differ, or all x equal. x and y finite, weights above 0.
std::optional<LineFit> fit_line(std::span<const double> x, std::span<const double> y,
                                std::span<const double> weights = {});

// y = slope x. Absent: fewer than 2 points, lengths that differ, or all x zero.
// `intercept` is 0; r_squared is about zero, not about the mean.
std::optional<LineFit> fit_through_origin(std::span<const double> x, std::span<const double> y,
                                          std::span<const double> weights = {});

// Quantile of Student's t. p in (0, 1), df > 0 (need not be whole); above 1e6 the normal one is returned.
double student_t(double p, double df);

std::optional<double> median(std::vector<double> values);  // absent when empty
double mean_of(std::span<const double> values);            // 0 when empty
double sd_of(std::span<const double> values);              // n - 1; 0 when fewer than 2
double lag1_autocorrelation(std::span<const double> values);  // about the mean; 0 when it does not vary

// y(t) = limit + (start - limit) exp(-rate t).
struct ApproachFit {
  double limit = 0, start = 0, rate = 0;
  double limit_sd = 0, start_sd = 0, rate_sd = 0, residual_sd = 0, rss = 0;
  std::array<std::array<double, 3>, 3> covariance{};  // of limit, start, rate
  int df = 0;
};

// Least squares; `known_start` pins y(0) and leaves two parameters. Absent: too few points (one more than
// parameters), no sign of a limit within a hundred spans of the data, or the fit does not settle.
std::optional<ApproachFit> fit_approach(std::span<const double> t, std::span<const double> y,
                                        std::optional<double> known_start = std::nullopt);

}  // namespace riserkeep
