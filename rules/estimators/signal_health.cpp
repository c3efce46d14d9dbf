#include "rules/estimators/signal_health.h"

#include <algorithm>
#include <cmath>

namespace riserkeep {
namespace {

constexpr std::int64_t kRun = 12;        // identical readings that are no chance
constexpr std::int64_t kEnough = 30;     // differences before anything is said
constexpr std::int64_t kRemembered = 200;

}  // namespace

void SignalHealth::add(const Reading& r) {
  const bool good = r.quality != Quality::bad && r.ticks.has_value();
  if (!seen_) last_good_ = r.measured;
  seen_ = true;
  bad_ = !good;
  why_ = good ? Why::none : r.why == Why::none ? Why::no_value : r.why;
  if (!good || (ticks_ && r.measured <= last_good_)) return;
  last_good_ = r.measured;
  if (!ticks_) {
    ticks_ = r.ticks, same_since_ = r.measured, same_count_ = 1;
    return;
  }
  const bool moved = *r.ticks != *ticks_;
  const double difference = static_cast<double>(*r.ticks - *ticks_);
  same_count_ = moved ? 1 : same_count_ + 1;
  if (moved) same_since_ = r.measured;
  ticks_ = r.ticks;
  if (same_count_ >= kRun) return;  // a freeze must not teach that standing still is usual
  compared_ = std::min(compared_ + 1, kRemembered);
  const double weight = 1.0 / static_cast<double>(compared_);
  move_share_ += weight * ((moved ? 1.0 : 0.0) - move_share_);
  mean_square_ += weight * (difference * difference - mean_square_);
}

bool SignalHealth::frozen(EngineTime now, Duration after) const {
  return !bad_ && ticks_ && same_count_ >= kRun && now - same_since_ >= after && compared_ >= kEnough && move_share_ > 0.5;
}

std::optional<Duration> SignalHealth::bad_for(EngineTime now) const {
  if (!seen_ || !bad_) return std::nullopt;
  return now - last_good_;
}

std::optional<double> SignalHealth::noise_ticks() const {
  if (compared_ < kEnough) return std::nullopt;
  return std::sqrt(0.5 * mean_square_);
}

}  // namespace riserkeep
