#include "rules/estimators/ledger.h"

#include <algorithm>
#include <cmath>

namespace riserkeep {
namespace {

constexpr double kAir = 0.2095;
constexpr double kShareError = 0.01;    // of the credit: relative error of share and span
constexpr double kCommonError = 0.0005; // per content vented: common error of y - feed, as a fraction of oxygen

}  // namespace

void OxygenLedger::piece(double vented, double fed, std::optional<OxygenFraction> y, OxygenFraction feed) {
  const double o = std::clamp(vented, 0.0, 0.99), g = std::max(fed, 0.0), xs = feed.fraction();
  if (!purest_feed_ || feed < *purest_feed_) purest_feed_ = feed;
  const double gone = y ? y->fraction() : std::min(purest_feed_->fraction(), x_);
  x_ = std::clamp((x_ - o * gone + g * xs) / (1.0 - o + g), 0.0, kAir);
  if (!y) return;
  last_y_ = y;
  turnover_ += o;
  credit_ += o * std::max(0.0, gone - xs);
}

void OxygenLedger::refill(AbsolutePressure p0, AbsolutePressure p1, OxygenFraction feed) {
  if (!purest_feed_ || feed < *purest_feed_) purest_feed_ = feed;
  if (const double g = p1.si() / p0.si() - 1.0; g > 0) x_ = std::min((x_ + g * feed.fraction()) / (1.0 + g), kAir);
  last_p_ = p1;
}

void OxygenLedger::rest(AbsolutePressure p, Tap tap) {
  if (last_p_) {
    fall_ -= std::log(p.si() / last_p_->si());
    const double beyond = std::max(0.0, fall_ - fall_counted_);
    fall_counted_ += beyond;
    const double lost = 1.0 - std::exp(-beyond);
    const double purest = purest_feed_ ? purest_feed_->fraction() : 0.0;
    const double known = last_y_ ? std::min(last_y_->fraction(), x_) : x_;
    const double leaked = tap == Tap::far_end ? purest : (purest + known) / 2.0;
    x_ = std::clamp((x_ - lost * leaked) / (1.0 - lost), 0.0, kAir);
  }
  last_p_ = p;
}

void OxygenLedger::rebase(AbsolutePressure p) { last_p_ = p; }

void OxygenLedger::restart() { *this = OxygenLedger{}; }

void OxygenLedger::hand_reading(OxygenFraction x) {
  x_ = std::min(x.fraction(), kAir);
  turnover_ = credit_ = 0;
  start_unknown_ = false;
}

double OxygenLedger::sd() const { return std::hypot(kShareError * credit_, kCommonError * turnover_); }
double OxygenLedger::upper() const { return x_ + 2.0 * sd(); }
double OxygenLedger::lower() const { return std::max(0.0, x_ - 2.0 * sd()); }

}  // namespace riserkeep
