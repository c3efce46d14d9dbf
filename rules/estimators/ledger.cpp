#include "rules/estimators/ledger.h"

#include <algorithm>
#include <cmath>

namespace riserkeep {
namespace {

constexpr double kAir = 0.2095;
constexpr double kShareError = 0.01;    // of the credit: relative error of share and span
constexpr double kCommonError = 0.0005; // per content vented: common error of y - feed, as a fraction of oxygen

double mixed(double x, double out, double gone, double in, double feed) {
  return std::clamp((x - out * gone + in * feed) / (1.0 - out + in), 0.0, kAir);
}

void take_feed(std::optional<OxygenFraction>& purest, std::optional<OxygenFraction> feed) {
  if (feed && (!purest || *feed < *purest)) purest = feed;
}

}  // namespace

void OxygenLedger::piece(double vented, double fed, std::optional<OxygenFraction> y, std::optional<OxygenFraction> feed) {
  const double o = std::clamp(vented, 0.0, 0.99), g = std::max(fed, 0.0);
  take_feed(purest_feed_, feed);
  const double poorest = purest_feed_ ? std::min(purest_feed_->fraction(), x_) : 0.0;
  x_ = mixed(x_, o, y ? y->fraction() : poorest, g, feed ? feed->fraction() : x_);
  low_ = mixed(low_, o, y ? y->fraction() : kAir, g, feed ? feed->fraction() : 0.0);
  if (!y) return;
  last_y_ = y;
  turnover_ += o;
  credit_ += o * std::max(0.0, y->fraction() - (feed ? feed->fraction() : 0.0));
}

void OxygenLedger::refill(AbsolutePressure p0, AbsolutePressure p1, std::optional<OxygenFraction> feed) {
  take_feed(purest_feed_, feed);
  if (const double g = p1.si() / p0.si() - 1.0; g > 0) {
    x_ = mixed(x_, 0, 0, g, feed ? feed->fraction() : x_);
    low_ = mixed(low_, 0, 0, g, feed ? feed->fraction() : 0.0);
  }
  last_p_ = p1;
}

// What leaks is between the purest gas in the pipe and the richest: at a far-end tap that is the tap's own, at
// a riser tap as far above the mean as the tap's lies below it.
void OxygenLedger::rest(AbsolutePressure p, Tap tap) {
  if (last_p_) {
    fall_ -= std::log(p.si() / last_p_->si());
    const double beyond = std::max(0.0, fall_ - fall_counted_);
    fall_counted_ += beyond;
    const double lost = 1.0 - std::exp(-beyond);
    const double purest = purest_feed_ ? purest_feed_->fraction() : 0.0;
    const double y = last_y_ ? last_y_->fraction() : x_;
    const double poor = tap == Tap::far_end ? purest : (purest + std::min(y, x_)) / 2.0;
    const double rich = tap == Tap::far_end ? std::max(y, low_) : std::clamp(2.0 * x_ - y, low_, kAir);
    x_ = mixed(x_, lost, poor, 0, 0);
    low_ = mixed(low_, lost, rich, 0, 0);
  }
  last_p_ = p;
}

void OxygenLedger::rebase(AbsolutePressure p) { last_p_ = p; }

void OxygenLedger::restart() { *this = OxygenLedger{}; }

void OxygenLedger::begin() {
  const double low = lower();
  restart();
  low_ = low;
}

void OxygenLedger::unseen() { low_ = 0; }

void OxygenLedger::hand_reading(OxygenFraction far_end, std::optional<OxygenFraction> riser) {
  const OxygenFraction near = riser.value_or(far_end);
  x_ = std::min(std::max(far_end, near).fraction(), kAir);
  low_ = std::min(std::min(far_end, near).fraction(), kAir);
  turnover_ = credit_ = 0;
  start_unknown_ = false;
}

double OxygenLedger::sd() const { return std::hypot(kShareError * credit_, kCommonError * turnover_); }
double OxygenLedger::upper() const { return x_ + 2.0 * sd(); }
double OxygenLedger::lower() const { return std::max(0.0, low_ - 2.0 * sd()); }

}  // namespace riserkeep
