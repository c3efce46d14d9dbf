#include "rules/judge/trend.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace riserkeep {

double theil_sen_slope(std::span<const double> y) {
  std::vector<double> slopes;
  for (std::size_t i = 0; i < y.size(); ++i)
    for (std::size_t j = i + 1; j < y.size(); ++j) slopes.push_back((y[j] - y[i]) / static_cast<double>(j - i));
  if (slopes.empty()) return 0;
  const std::size_t half = slopes.size() / 2;
  std::ranges::sort(slopes);
  return slopes.size() % 2 ? slopes[half] : 0.5 * (slopes[half - 1] + slopes[half]);
}

double mann_kendall_z(std::span<const double> y, double memory) {
  if (y.size() < 3) return 0;
  double s = 0;
  for (std::size_t i = 0; i < y.size(); ++i)
    for (std::size_t j = i + 1; j < y.size(); ++j) s += y[j] > y[i] ? 1.0 : y[j] < y[i] ? -1.0 : 0.0;
  const auto n = static_cast<double>(y.size());
  double variance = n * (n - 1) * (2 * n + 5);
  std::vector<double> sorted(y.begin(), y.end());
  std::ranges::sort(sorted);
  for (std::size_t i = 0; i < sorted.size();) {
    std::size_t j = i;
    while (j < sorted.size() && sorted[j] <= sorted[i]) ++j;
    const auto ties = static_cast<double>(j - i);
    variance -= ties * (ties - 1) * (2 * ties + 5);
    i = j;
  }
  if (variance <= 0) return 0;
  const double corrected = s > 0 ? s - 1 : s < 0 ? s + 1 : 0;
  return corrected / std::sqrt(variance * memory / 18.0);
}

}  // namespace riserkeep
