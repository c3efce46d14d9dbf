#include "rules/estimators/twin.h"

#include <algorithm>
#include <array>

namespace riserkeep {
namespace {

constexpr Duration kAfterVent = minutes(3), kAfterRefill = minutes(5);  // warmed or cooled gas settles
constexpr Duration kAfterSample = seconds(10);
constexpr double kSlowSeconds = 86400.0;
constexpr EngineTime kOpenEnd = EngineTime::max();

constexpr std::array kReasons{std::string_view{}, LeakRate::kNotEnough, LeakRate::kHeld, LeakRate::kHardlyClosed};

void keep_interval(Archive& a, std::optional<Interval>& i) {
  bool has = i.has_value();
  a(has);
  if (a.is_loading()) i = has ? std::optional{Interval{}} : std::nullopt;
  if (i) a(i->value, i->low95, i->high95);
}

}  // namespace

void Twin::reading(const Site& site, SystemId system, const ChannelTable& channels, const Reading& r) {
  if (r.channel == site[system].water_pressure && r.quality != Quality::bad && r.ticks)
    water_.add(r.measured, psi(static_cast<double>(*r.ticks) * tick_of(Signal::water_pressure)));
  if (r.channel != site[system].pressure) return;
  pressure_health_.add(r);
  if (r.quality == Quality::bad || !r.ticks) return;
  if (last_reading_ && r.measured <= *last_reading_) return;
  const GaugePressure p = psig(static_cast<double>(*r.ticks) * tick_of(Signal::pressure));
  over_gap(site[r.channel].stale_after, r.measured, p);
  good_pressure(site, system, channels, r.measured, p);
  last_reading_ = r.measured;
}

// Nobody looked for a while. Unless the pressure tells of a refill, or the time is long enough to hide a
// fall and a refill, the pipe is taken to have been closed.
void Twin::over_gap(Duration stale_after, EngineTime at, GaugePressure p) {
  if (!last_reading_) return;
  const Duration away = at - *last_reading_;
  if (away <= std::max<Duration>(stale_after, minutes(1))) return;
  const auto before = pressure_.newest();
  if (away > minutes(30) || (before && p - before->pressure > psi(0.25))) quiet(at);
  else leak_.gap(at);
  pressure_.break_off();
  refills_.break_off();
}

void Twin::good_pressure(const Site& site, SystemId system, const ChannelTable& channels, EngineTime at, GaugePressure p) {
  const System& s = site[system];
  std::optional<Temperature> gas;
  if (const auto c = channels.value(site, s.temperature, at)) gas = celsius(*c);
  const auto measured = channels.value(site, site[s.room].barometer, at);
  const AbsolutePressure atmosphere = measured ? AbsolutePressure::from_si(1000.0 * *measured) : site.atmosphere;
  if (measured.has_value() != barometer_) quiet(at);
  barometer_ = measured.has_value();

  pressure_.add(at, p);
  refills_.step(pressure_, at, vented_since_refill_, gas, atmosphere);
  if (refills_.running() != filling_) {
    filling_ = refills_.running();
    if (filling_) quiet(kOpenEnd);
    else {
      vented_since_refill_ = vent_open_;
      quiet(refills_.last() ? refills_.last()->ended.value_or(at) + kAfterRefill : at + kAfterRefill);
    }
  }
  leak_.add(at, to_absolute(p, atmosphere), gas, barometer_);

  const double passed = last_reading_ ? std::min(in_seconds(at - *last_reading_), 3600.0) : 1.0;
  slow_seconds_ = std::min(slow_seconds_ + passed, kSlowSeconds);
  slow_mean_pa_ += (p.si() - slow_mean_pa_) * std::min(1.0, passed / slow_seconds_);
  has_mean_ = true;
}

// The longest of all the reasons to be quiet holds; an open vent or a running refill has no end yet.
void Twin::quiet(EngineTime until) {
  if (until != kOpenEnd) quiet_until_ = std::max(quiet_until_, until);
  leak_.new_piece(filling_ || vent_open_ || sampled_ || until == kOpenEnd ? kOpenEnd : quiet_until_);
}

void Twin::vent_moved(bool open, EngineTime at) {
  if (open == vent_open_) return;
  vent_open_ = open;
  vented_since_refill_ = vented_since_refill_ || open;
  quiet(open ? kOpenEnd : at + kAfterVent);
}

void Twin::sampled(bool port_open, EngineTime at) {
  if (port_open == sampled_) return;
  sampled_ = port_open;
  quiet(port_open ? kOpenEnd : at + kAfterSample);
}

void Twin::repaired(EngineTime at) {
  leak_ = LeakRate{};
  leak_result_ = LeakRate::declined(LeakRate::kNotEnough);
  quiet(at);
}

void Twin::resumed(EngineTime at) {
  pressure_.break_off();
  refills_.break_off();
  if (filling_) vented_since_refill_ = vent_open_;
  filling_ = false;
  quiet(at);
}

void Twin::renew_leak(const Site& site, SystemId system, EngineTime now) {
  const System& s = site[system];
  if (s.air.regulated) {
    leak_result_ = LeakRate::declined(LeakRate::kHeld);
    return;
  }
  leak_result_ = leak_.result(now, site.atmosphere, s.volume);
}

std::optional<GaugePressure> Twin::mean_pressure() const {
  return has_mean_ ? std::optional{GaugePressure::from_si(slow_mean_pa_)} : std::nullopt;
}

void Twin::keep_leak(Archive& a) {
  LeakResult& l = leak_result_;
  auto why = static_cast<std::uint8_t>(std::find(kReasons.begin(), kReasons.end(), l.why_not) - kReasons.begin());
  a(l.observable, why, l.hole_mm, l.std_l_per_min, l.hours_of_data);
  if (why >= kReasons.size()) return a.fail();
  l.why_not = kReasons[why];
  keep_interval(a, l.at_service);
  keep_interval(a, l.at_40psi);
}

void Twin::keep(Archive& a) {
  a(pressure_, refills_, leak_, purge_, pressure_health_, water_);
  a(slow_mean_pa_, slow_seconds_, has_mean_, vent_open_, vented_since_refill_, filling_, barometer_, sampled_);
  a(last_reading_, quiet_until_);
  keep_leak(a);
}

}  // namespace riserkeep
