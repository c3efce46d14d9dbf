#include "rules/estimators/leak_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "rules/maths.h"

namespace riserkeep {
namespace {

constexpr int kColumns = 5;                          // rate, daily sine and cosine, half-daily sine and cosine
using Vec = Eigen::Matrix<double, kColumns, 1>;
using Mat = Eigen::Matrix<double, kColumns, kColumns>;

constexpr double kPsiPerKelvin = 54.696 / 294.15;    // of y, at 40 psi gauge and 21 C
constexpr double kDailyWave = 4.0 * kPsiPerKelvin;   // prior sd of each component without a sensor
constexpr double kHalfDailyWave = 0.3 * kDailyWave;
constexpr double kNoiseFloor = 1e-4;                 // psi of a block: a tick of 0.001 psi over sqrt(12), averaged
constexpr double kTemper = 0.5;

struct Slow { double sd, days; };                    // what the data of a short time cannot show
constexpr Slow kBarometer{0.12, 2.5}, kWeather{1.0 * kPsiPerKelvin, 3.0};
constexpr Slow kSensorSpot{0.15 * kPsiPerKelvin, 3.0 / 24.0};  // the sensor's spot against the mean of the pipe

struct Noise { double hours, white; };               // correlation time, share of white noise
constexpr std::array<Noise, 11> kNoises{{{0.0, 1.0}, {0.5, 0.0}, {1.0, 0.0}, {3.0, 0.0}, {8.0, 0.0}, {24.0, 0.0},
                                         {0.5, 0.5}, {1.0, 0.5}, {3.0, 0.5}, {8.0, 0.5}, {24.0, 0.5}}};

struct Row { double days, y; Vec x; bool first; };   // `first` of its piece

// What one piece adds once its intercept has been taken out.
struct Sums {
  Mat xx = Mat::Zero();
  Vec xy = Vec::Zero();
  double yy = 0, log_det = 0;
};

// Sums of one piece with its intercept column still beside the others.
class Piece {
 public:
  void add(double variance, double one, const Vec& x, double y) {
    const double w = 1.0 / variance;
    log_det_ += std::log(variance);
    oo_ += w * one * one;
    ox_ += w * one * x;
    oy_ += w * one * y;
    s_.xx.noalias() += w * x * x.transpose();
    s_.xy += w * x * y;
    s_.yy += w * y * y;
  }
  void into(Sums& all) const {
    if (!(oo_ > 0.0)) return;
    all.xx += s_.xx - ox_ * ox_.transpose() / oo_;
    all.xy += s_.xy - ox_ * (oy_ / oo_);
    all.yy += s_.yy - oy_ * oy_ / oo_;
    all.log_det += log_det_ + std::log(oo_);
  }

 private:
  Sums s_;
  Vec ox_ = Vec::Zero();
  double oo_ = 0, oy_ = 0, log_det_ = 0;
};

// Whitens every column by the Kalman filter of an Ornstein-Uhlenbeck process seen through white noise.
Sums whitened(std::span<const Row> rows, Noise noise) {
  Sums all;
  Piece piece;
  double p = 0, state_one = 0, state_y = 0, before = 0;
  Vec state_x = Vec::Zero();
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Row& r = rows[i];
    if (r.first) {
      if (i > 0) piece.into(all);
      piece = {};
      p = 1.0 - noise.white, state_one = 0, state_y = 0;
      state_x.setZero();
    } else {
      const double decay = noise.hours > 0.0 ? std::exp(-24.0 * (r.days - before) / noise.hours) : 0.0;
      p = decay * decay * p + (1.0 - noise.white) * (1.0 - decay * decay);
      state_one *= decay, state_y *= decay;
      state_x *= decay;
    }
    before = r.days;
    const double variance = p + noise.white, gain = p / variance;
    const double one = 1.0 - state_one, y = r.y - state_y;
    const Vec x = r.x - state_x;
    piece.add(variance, one, x, y);
    state_one += gain * one, state_y += gain * y;
    state_x += gain * x;
    p *= 1.0 - gain;
  }
  piece.into(all);
  return all;
}

struct Candidate { double rate = 0, variance = 0, log_likelihood = 0; };

std::optional<Candidate> candidate(std::span<const Row> rows, Noise noise, const Vec& prior, int df) {
  const Sums s = whitened(rows, noise);
  double sigma2 = 0.02 * 0.02;
  Candidate c;
  for (int pass = 0; pass < 3; ++pass) {
    const Mat a = s.xx + sigma2 * Mat{prior.asDiagonal()};
    const Eigen::LDLT<Mat> solver(a);
    if (solver.info() != Eigen::Success || !(solver.vectorD().minCoeff() > 0.0)) return std::nullopt;
    const Vec b = solver.solve(s.xy);
    const double left = std::max(0.0, s.yy - 2.0 * b.dot(s.xy) + b.dot(a * b));
    const double before = sigma2;
    sigma2 = std::max(left / df, kNoiseFloor * kNoiseFloor);
    c.rate = b(0);
    c.variance = sigma2 * solver.solve(Vec::Unit(0))(0);
    c.log_likelihood = -0.5 * (df * std::log(sigma2) + s.log_det + left / sigma2 +
                               solver.vectorD().array().log().sum() - (kColumns - 1) * std::log(before));
  }
  if (!std::isfinite(c.rate) || !(c.variance > 0.0)) return std::nullopt;
  return c;
}

// Variance of a plain slope under a slow disturbance the residuals of a short time cannot show.
double slow_variance(std::span<const Row> rows, std::span<const double> weights, Slow slow) {
  double total = 0, carried = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (i > 0) carried = std::exp(-(rows[i].days - rows[i - 1].days) / slow.days) * (carried + weights[i - 1]);
    total += weights[i] * weights[i] + 2.0 * weights[i] * carried;
  }
  return slow.sd * slow.sd * std::max(0.0, total);
}

std::vector<double> plain_weights(std::span<const Row> rows) {
  std::vector<double> w(rows.size());
  double all = 0;
  for (std::size_t i = 0; i < rows.size();) {
    std::size_t end = i;
    double mean = 0;
    for (; end < rows.size() && (end == i || !rows[end].first); ++end)
      mean += (rows[end].days - mean) / static_cast<double>(end - i + 1);
    for (; i < end; ++i) {
      w[i] = rows[i].days - mean;
      all += w[i] * w[i];
    }
  }
  for (double& v : w) v = all > 0.0 ? v / all : 0.0;
  return w;
}

// Rows about the middle of the time, y about each piece's first; pieces of one block say nothing and go.
std::vector<Row> rows_of(std::span<const LeakBlock> blocks, bool wave) {
  std::vector<Row> rows;
  rows.reserve(blocks.size());
  const double middle = 0.5 * (blocks.front().days + blocks.back().days);
  double origin = 0;
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    const bool first = i == 0 || blocks[i - 1].piece != blocks[i].piece;
    const bool alone = first && (i + 1 == blocks.size() || blocks[i + 1].piece != blocks[i].piece);
    if (alone) continue;
    if (first) origin = blocks[i].y;
    const double t = blocks[i].days - middle;
    Vec x = Vec::Zero();
    x(0) = -t;
    if (wave) {
      const double s = std::sin(2.0 * std::numbers::pi * t), c = std::cos(2.0 * std::numbers::pi * t);
      x.tail<4>() << s, c, 2.0 * s * c, c * c - s * s;
    }
    rows.push_back({t, blocks[i].y - origin, x, first});
  }
  return rows;
}

Vec prior_of(bool wave) {
  Vec p = Vec::Ones();
  p(0) = 0.0;
  if (wave) {
    p(1) = p(2) = 1.0 / (kDailyWave * kDailyWave);
    p(3) = p(4) = 1.0 / (kHalfDailyWave * kHalfDailyWave);
  }
  return p;
}

}  // namespace

std::optional<LeakFit> fit_leak(std::span<const LeakBlock> blocks, LeakModel model) {
  if (blocks.size() < 3) return std::nullopt;
  const bool wave = !model.temperature;
  std::vector<Row> rows = rows_of(blocks, wave);
  const auto pieces = std::count_if(rows.begin(), rows.end(), [](const Row& r) { return r.first; });
  const int df = static_cast<int>(rows.size()) - static_cast<int>(pieces) - 1;
  if (df < 1) return std::nullopt;

  const auto weights = plain_weights(rows);
  double plain = 0;  // taken out first, so that rounding is that of what is left
  for (std::size_t i = 0; i < rows.size(); ++i) plain -= weights[i] * rows[i].y;
  for (Row& r : rows) r.y += plain * r.days;

  std::vector<Candidate> all;
  for (const Noise& n : kNoises)
    if (const auto c = candidate(rows, n, prior_of(wave), df)) all.push_back(*c);
  if (all.empty()) return std::nullopt;
  const auto better = [](const Candidate& a, const Candidate& b) { return a.log_likelihood < b.log_likelihood; };
  const double best = std::max_element(all.begin(), all.end(), better)->log_likelihood;
  double sum = 0, rate = 0, variance = 0;
  for (Candidate& c : all) {
    c.log_likelihood = std::exp(kTemper * (c.log_likelihood - best));  // from here on its weight
    sum += c.log_likelihood;
    rate += c.log_likelihood * c.rate;
  }
  rate /= sum;
  for (const Candidate& c : all)
    variance += c.log_likelihood / sum * (c.variance + (c.rate - rate) * (c.rate - rate));

  rate += plain;
  double slow = 0;
  if (!model.barometer) slow += slow_variance(rows, weights, kBarometer);
  if (!wave) slow += slow_variance(rows, weights, kSensorSpot);
  if (wave) slow += slow_variance(rows, weights, kWeather) + 1e-4 * rate * rate;  // mean temperature unknown: 1 %
  const double t = student_t(0.975, df), z = student_t(0.975, 1e9);
  return LeakFit{rate, std::sqrt(t * t * variance + z * z * slow)};
}

}  // namespace riserkeep
