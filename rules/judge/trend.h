// Is a short series growing? Robust slope and a rank test, without assuming a distribution.
#pragma once

#include <span>

namespace riserkeep {

// Median of the slopes of all pairs, per step of the series (Sen 1968). Two values or more; else 0.
double theil_sen_slope(std::span<const double>);

// Standardised Mann-Kendall statistic, with ties and continuity correction (Mann 1945, Kendall 1975).
// `memory`: how many neighbouring values share the same data; the variance grows by it. 0 below 3 values.
double mann_kendall_z(std::span<const double>, double memory = 1.0);

}  // namespace riserkeep
