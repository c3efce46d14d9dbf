#include "rules/estimators/pressure_track.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/units.h"

namespace riserkeep {
namespace {

constexpr Duration kLength = minutes(15);
constexpr std::size_t kMost = 600;
constexpr std::size_t kMedianMost = 9;

}  // namespace

void PressureTrack::add(EngineTime at, GaugePressure p) {
  if (!samples_.empty() && at <= samples_.back().at) return;
  samples_.push_back({at, p});
  while (samples_.size() > kMost || at - samples_.front().at > kLength) samples_.pop_front();
  learn_noise();
}

void PressureTrack::learn_noise() {
  const std::size_t n = samples_.size();
  if (n < 3) return;
  const Sample &a = samples_[n - 3], &b = samples_[n - 2], &c = samples_[n - 1];
  const Duration first = b.at - a.at, second = c.at - b.at;
  if (first > 2 * second || second > 2 * first || first + second > minutes(4)) return;
  const double bend = ((c.pressure - b.pressure) - (b.pressure - a.pressure)).si();
  // The start of a refill and a spike are bends too: beyond five sigma they count as five.
  const double most = differences_ < 10 ? bend * bend : std::max(25.0 * mean_square_difference_, 25.0);
  ++differences_;
  const double weight = 1.0 / static_cast<double>(std::min<std::int64_t>(differences_, 300));
  mean_square_difference_ += weight * (std::min(bend * bend, most) - mean_square_difference_);
}

void PressureTrack::break_off() { samples_.clear(); }

std::optional<PressureTrack::Sample> PressureTrack::newest() const {
  return samples_.empty() ? std::nullopt : std::optional{samples_.back()};
}

PressureTrack::Position PressureTrack::first_after(EngineTime t) const {
  return std::upper_bound(samples_.begin(), samples_.end(), t, [](EngineTime x, const Sample& s) { return x < s.at; });
}

std::optional<GaugePressure> PressureTrack::mean(EngineTime after, EngineTime until) const {
  double sum = 0;
  int n = 0;
  for (auto i = first_after(after); i != samples_.end() && i->at <= until; ++i, ++n) sum += i->pressure.si();
  return n == 0 ? std::nullopt : std::optional{GaugePressure::from_si(sum / n)};
}

std::optional<GaugePressure> PressureTrack::mean_of_last(std::size_t n, EngineTime until) const {
  const auto end = first_after(until);
  if (n == 0 || static_cast<std::size_t>(end - samples_.begin()) < n) return std::nullopt;
  const auto begin = end - static_cast<std::ptrdiff_t>(n);
  if (until - begin->at > minutes(2)) return std::nullopt;
  double sum = 0;
  for (auto i = begin; i != end; ++i) sum += i->pressure.si();
  return GaugePressure::from_si(sum / static_cast<double>(n));
}

std::optional<GaugePressure> PressureTrack::median_of_last(std::size_t n) const {
  if (n == 0 || n > kMedianMost || samples_.size() < n) return std::nullopt;
  std::array<GaugePressure, kMedianMost> v;
  std::transform(samples_.end() - static_cast<std::ptrdiff_t>(n), samples_.end(), v.begin(),
                 [](const Sample& s) { return s.pressure; });
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(n / 2);
  std::nth_element(v.begin(), middle, v.begin() + static_cast<std::ptrdiff_t>(n));
  return *middle;
}

std::optional<PressureRate> PressureTrack::slope(EngineTime after, EngineTime until) const {
  double n = 0, mt = 0, mp = 0, stt = 0, stp = 0;
  for (auto i = first_after(after); i != samples_.end() && i->at <= until; ++i) {
    const double t = in_seconds(i->at - until), p = i->pressure.si();
    const double dt = t - mt, dp = p - mp;
    n += 1.0;
    mt += dt / n;
    mp += dp / n;
    stt += dt * (t - mt);
    stp += dt * (p - mp);
  }
  if (n < 3.0 || !(stt > 0.0)) return std::nullopt;
  return PressureRate::from_si(stp / stt);
}

PressureChange PressureTrack::noise() const {
  const PressureChange floor = psi(0.001 / std::sqrt(12.0));
  // var(a - 2b + c) = 6 var of one reading
  const PressureChange seen = PressureChange::from_si(std::sqrt(mean_square_difference_ / 6.0));
  return std::max({floor, seen, differences_ < 10 ? psi(0.05) : floor});
}

}  // namespace riserkeep
