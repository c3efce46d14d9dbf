#include "rules/estimators/refill_watch.h"

#include <algorithm>
#include <vector>

#include "rules/maths.h"

namespace riserkeep {
namespace {

constexpr Duration kShort = minutes(2), kLong = minutes(10), kSpacing = seconds(10);
constexpr std::size_t kRecent = 200, kRises = 15, kRisesNeeded = 3;

PressureChange threshold(PressureChange noise) { return std::max(psi(0.25), 6.0 * noise); }

// As many readings as half a minute holds, odd: three outlive one spike.
std::size_t median_length(const PressureTrack& track, EngineTime now) {
  std::size_t n = 0;
  const auto& s = track.samples();
  for (auto i = s.rbegin(); i != s.rend() && n < 7 && now - i->at < seconds(30); ++i) ++n;
  return n >= 7 ? 7 : n >= 5 ? 5 : 3;
}

}  // namespace

void RefillWatch::step(const PressureTrack& track, EngineTime now, bool vented, std::optional<Temperature> gas,
                       AbsolutePressure atmosphere) {
  if (!smooth_.empty() && now - last_step_ > minutes(5)) break_off();
  last_step_ = now;
  const auto p = track.median_of_last(median_length(track, now));
  if (!p) return;
  if (!rest_pressure_) rest_pressure_ = *p;
  if (!rest_gas_ && !current_) rest_gas_ = gas;
  if (current_) look_for_end(now, *p, track.noise());
  else look_for_start(now, *p, track.noise(), vented, gas, atmosphere);
  remember(now, *p, running());
}

void RefillWatch::remember(EngineTime now, GaugePressure p, bool filling) {
  if (!smooth_.empty() && now - smooth_.back().at < kSpacing) return;
  smooth_.push_back({now, p});
  const Duration length = filling ? minutes(15) : kLong;
  while (now - smooth_.front().at > length) smooth_.pop_front();
}

void RefillWatch::look_for_start(EngineTime now, GaugePressure p, PressureChange noise, bool vented,
                                 std::optional<Temperature> gas, AbsolutePressure atmosphere) {
  const Smooth *lowest = nullptr, *lowest_short = nullptr;
  for (const Smooth& s : smooth_) {
    if (!lowest || s.p <= lowest->p) lowest = &s;
    if (now - s.at <= kShort && (!lowest_short || s.p <= lowest_short->p)) lowest_short = &s;
  }
  const PressureChange least = threshold(noise);
  const Smooth* from = nullptr;
  if (lowest_short && p - lowest_short->p > least) from = lowest_short;
  else if (lowest && p - lowest->p > 3.0 * least) from = lowest;
  if (!from) return;
  // The latest that is as low but for noise: in a slow fall the lowest of all may be a minute early.
  for (const Smooth& s : smooth_)
    if (s.at > from->at && s.p - from->p < noise) from = &s;
  Refill r;
  r.began = from->at;
  r.from = from->p;
  r.to = p;
  r.cause = vented ? RefillCause::vent : cause_of(from->p, gas, atmosphere);
  current_ = r;
  flat_since_.reset();
  rest_gas_.reset();
}

RefillCause RefillWatch::cause_of(GaugePressure from, std::optional<Temperature> gas, AbsolutePressure atmosphere) const {
  if (!gas || !rest_gas_ || !rest_pressure_ || from >= *rest_pressure_) return RefillCause::unknown;
  const PressureChange fall = *rest_pressure_ - from;
  const double cooled = 1.0 - gas->si() / rest_gas_->si();
  const PressureChange by_cooling = cooled * to_absolute(*rest_pressure_, atmosphere).from_zero();
  return by_cooling > 0.5 * fall ? RefillCause::cooling : RefillCause::leak;
}

void RefillWatch::look_for_end(EngineTime now, GaugePressure p, PressureChange noise) {
  Refill& r = *current_;
  r.to = std::max(r.to, p);
  if (r.to - p > threshold(noise)) return finish(p, now, noise);
  const PressureRate rate = (r.to - r.from) / std::max<Duration>(now - r.began, seconds(10));
  // Long enough that the rise so far would stand out of the noise, if it went on.
  const double wanted = 6.0 * noise.si() / rate.si();
  const Duration window = std::clamp<Duration>(from_seconds(std::min(wanted, 300.0)), seconds(60), minutes(5));
  const auto then = std::find_if(smooth_.rbegin(), smooth_.rend(), [&](const Smooth& s) { return now - s.at >= window; });
  if (then == smooth_.rend() || then->at < r.began) return;
  const PressureChange went_on = p - then->p, expected = rate * (now - then->at);
  if (went_on > 0.5 * expected) flat_since_.reset();
  if (went_on < 0.2 * expected && !flat_since_) flat_since_ = now;
  if (flat_since_ && now - *flat_since_ >= minutes(1)) finish(p, now, noise);
}

void RefillWatch::finish(GaugePressure p, EngineTime now, PressureChange noise) {
  Refill& r = *current_;
  const GaugePressure nearly = r.to - std::max(0.03 * (r.to - r.from), 2.0 * noise);
  const auto top = std::find_if(smooth_.begin(), smooth_.end(), [&](const Smooth& s) { return s.at > r.began && s.p >= nearly; });
  r.ended = top == smooth_.end() ? now : top->at;
  if (const PressureChange rise = r.to - r.from; rise >= psi(1) && *r.ended > r.began) {
    rises_.push_back((rise / (*r.ended - r.began)).si());
    if (rises_.size() > kRises) rises_.pop_front();
  }
  recent_.push_back(r);
  if (recent_.size() > kRecent) recent_.pop_front();
  last_ = finished_ = r;
  current_.reset();
  flat_since_.reset();
  rest_pressure_ = p;
  smooth_.clear();  // what follows is measured from here
}

void RefillWatch::break_off() {
  if (current_) finish(current_->to, last_step_, {});
  smooth_.clear();
}

std::optional<Refill> RefillWatch::take_finished() {
  auto r = finished_;
  finished_.reset();
  return r;
}

int RefillWatch::begun_within(Duration d, EngineTime now) const {
  const auto in = [&](const Refill& r) { return now - r.began <= d; };
  return static_cast<int>(std::count_if(recent_.begin(), recent_.end(), in)) + (current_ && in(*current_) ? 1 : 0);
}

int RefillWatch::leak_refills_within(Duration d, EngineTime now) const {
  const auto in = [&](const Refill& r) { return now - r.began <= d && r.cause != RefillCause::vent; };
  return static_cast<int>(std::count_if(recent_.begin(), recent_.end(), in)) + (current_ && in(*current_) ? 1 : 0);
}

std::optional<PressureRate> RefillWatch::learned_rise() const {
  if (rises_.size() < kRisesNeeded) return std::nullopt;
  const auto m = median({rises_.begin(), rises_.end()});
  return m ? std::optional{PressureRate::from_si(*m)} : std::nullopt;
}

Duration RefillWatch::run_time_within(Duration d, EngineTime now) const {
  Duration sum{0};
  const auto count = [&](const Refill& r, EngineTime end) {
    const EngineTime from = std::max(r.began, now - d), to = std::min(end, now);
    if (to > from) sum += to - from;
  };
  for (const Refill& r : recent_) count(r, r.ended.value_or(r.began));
  if (current_) count(*current_, now);
  return sum;
}

}  // namespace riserkeep
