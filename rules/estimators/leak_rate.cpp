#include "rules/estimators/leak_rate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "rules/estimators/leak_fit.h"
#include "rules/gas.h"
#include "rules/maths.h"

namespace riserkeep {
namespace {

constexpr double kP0 = 54.696;                      // psi absolute: 40 psi gauge
constexpr Temperature kT0 = Temperature::from_si(294.15);
constexpr Duration kMemory = days(7), kHoldBack = minutes(3);
constexpr std::size_t kPendingMost = 200;
constexpr double kSpike = 1.0 / kP0;                // of ln p: 1 psi
constexpr double kWide = 1.5;                       // psi per day
constexpr double kRegimeSd = 0.025;                 // orifice or seep: unknown at another pressure

Duration block_length(bool temperature) { return temperature ? minutes(10) : minutes(15); }
Duration block_least(bool temperature) { return temperature ? minutes(3) : minutes(4); }

// Flow per mole in the pipe of a sharp hole: what turns a rate at (p, t) into one at another state.
double flow_per_amount(AbsolutePressure p, AbsolutePressure atmosphere, Temperature t) {
  return orifice_mass_flow(1.0, Area::from_si(1.0), p, atmosphere, t) * t.si() / p.si();
}

}  // namespace

void LeakRate::add(EngineTime at, AbsolutePressure p, std::optional<Temperature> gas, bool barometer) {
  if (!first_) first_ = newest_ = at - milliseconds(1);
  if (at <= newest_ || !(p.si() > 0.0)) return;
  newest_ = at;
  if (at < quiet_until_) return;
  pending_.push_back({at, std::log(p.si()), gas ? std::log(gas->si()) : 0.0, gas.has_value(), barometer});
  while (!pending_.empty() && (at - pending_.front().at >= kHoldBack || pending_.size() > kPendingMost)) {
    const Sample oldest = pending_.front();
    std::array<double, 5> near{};
    const std::size_t n = std::min(near.size(), pending_.size());
    for (std::size_t i = 0; i < n; ++i) near[i] = pending_[i].log_p;
    pending_.pop_front();
    std::nth_element(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(n / 2), near.begin() + static_cast<std::ptrdiff_t>(n));
    if (std::abs(oldest.log_p - near[n / 2]) <= kSpike) release(oldest);
  }
}

void LeakRate::release(const Sample& s) {
  const bool temperature = open_.n > 0 ? open_.n_t > 0 : s.has_t;
  if (open_.n > 0 && (s.at - open_.first >= block_length(temperature) || s.barometer != open_.barometer || s.has_t != temperature))
    close_block();
  if (open_.n == 0) {
    open_ = Block{};
    open_.first = s.at, open_.piece = piece_, open_.barometer = s.barometer;
  }
  open_.last = s.at;
  ++open_.n;
  open_.seconds += in_seconds(s.at - open_.first);
  open_.log_p += s.log_p;
  if (s.has_t) open_.log_t += s.log_t, ++open_.n_t;
}

void LeakRate::close_block() {
  const bool enough = open_.n >= 3 && open_.last - open_.first >= block_least(open_.n_t > 0);
  if (enough) {
    Block b = open_;
    b.seconds /= b.n;
    b.log_p /= b.n;
    if (b.n_t > 0) b.log_t /= b.n_t;
    blocks_.push_back(b);
    while (b.last - blocks_.front().first > kMemory) blocks_.pop_front();
  }
  open_ = Block{};
}

void LeakRate::new_piece(EngineTime quiet_until) {
  pending_.clear();
  close_block();
  ++piece_;
  quiet_until_ = quiet_until;
}

void LeakRate::gap(EngineTime) {
  for (const Sample& s : pending_) release(s);
  pending_.clear();
  close_block();
}

bool LeakRate::mostly_with_temperature(EngineTime now) const {
  double with = 0, without = 0;
  for (const Block& b : blocks_)
    if (now - b.first <= kMemory) (b.has_t() ? with : without) += b.hours();
  return with >= 0.5 * without && with >= 0.5;
}

std::vector<const LeakRate::Block*> LeakRate::chosen(EngineTime now, bool temperature) const {
  std::vector<const Block*> out;
  for (const Block& b : blocks_)
    if (now - b.first <= kMemory && (!temperature || b.has_t())) out.push_back(&b);
  return out;
}

bool LeakRate::hardly_closed(EngineTime now) const {
  if (!first_ || newest_ - *first_ < days(1) || now - newest_ > hours(1)) return false;
  Duration closed{0};
  for (const Block& b : blocks_)
    if (now - b.first <= days(1)) closed += b.last - b.first;
  return closed + (open_.last - open_.first) < Duration{days(1)} / 10;
}

namespace {

struct Held { double days, y, theta; };

// A closed pipe breathes with its temperature or falls; one that does neither over a day is being fed.
bool held(std::span<const Held> day, bool temperature) {
  if (day.size() < 20 || day.back().days - day.front().days < 20.0 / 24.0) return false;
  const auto [low, high] = std::minmax_element(day.begin(), day.end(), [](auto& a, auto& b) { return a.y < b.y; });
  const auto [cold, warm] = std::minmax_element(day.begin(), day.end(), [](auto& a, auto& b) { return a.theta < b.theta; });
  const double moved = high->y - low->y, breath = warm->theta - cold->theta;
  if (temperature) return breath > kP0 / kT0.si() && moved < 0.3 * breath;
  return moved < 0.011;  // psi: three sigma of a block and a coarse quantum
}

// Neighbours of a piece joined in pairs once there are many: the fit's work stays bounded.
std::vector<LeakBlock> joined(const std::vector<LeakBlock>& all) {
  if (all.size() <= 400) return all;
  std::vector<LeakBlock> out;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const bool pair = i + 1 < all.size() && all[i + 1].piece == all[i].piece && all[i + 1].days - all[i].days < 0.02;
    if (!pair) { out.push_back(all[i]); continue; }
    out.push_back({0.5 * (all[i].days + all[i + 1].days), 0.5 * (all[i].y + all[i + 1].y), all[i].piece});
    ++i;
  }
  return out;
}

// The longest window, unless a shorter one is plainly at odds with it: then the leak has changed.
std::optional<LeakFit> newest_fit(const std::vector<LeakBlock>& all, LeakModel model, double& data_hours) {
  auto best = fit_leak(joined(all), model);
  if (!best) return best;
  for (const double window : {2.0, 0.5}) {
    if (!model.temperature && window < 1.0) continue;
    if (data_hours < 48.0 * window) continue;
    const auto from = std::find_if(all.begin(), all.end(), [&](const LeakBlock& b) { return all.back().days - b.days <= window; });
    const std::vector<LeakBlock> part(from, all.end());
    const auto fit = part.size() < 20 ? std::nullopt : fit_leak(part, model);
    if (fit && std::abs(fit->rate - best->rate) > 1.5 * (fit->half95 + best->half95)) best = fit, data_hours = 24.0 * window;
  }
  return best;
}

}  // namespace

LeakResult LeakRate::declined(std::string_view why, double data_hours) {
  LeakResult r;
  r.why_not = why;
  r.hours_of_data = data_hours;
  return r;
}

LeakResult LeakRate::result(EngineTime now, AbsolutePressure atmosphere, std::optional<Volume> volume) const {
  const bool temperature = mostly_with_temperature(now);
  const auto used = chosen(now, temperature);
  double data_hours = 0;
  bool barometer = true;
  for (const Block* b : used) data_hours += b->hours(), barometer = barometer && b->barometer;
  if (hardly_closed(now)) return declined(kHardlyClosed, data_hours);
  if (used.size() < 3 || data_hours < (temperature ? 0.75 : 3.0) - 0.1) return declined(kNotEnough, data_hours);

  std::vector<LeakBlock> data;
  std::vector<Held> day;
  for (const Block* b : used) {
    const double when = (in_seconds(b->first - used.back()->first) + b->seconds) / 86400.0;
    const double y = kP0 * b->log_p, theta = temperature ? kP0 * b->log_t : 0.0;
    data.push_back({when, y - theta, b->piece});
    if (now - b->first <= days(1)) day.push_back({when, y, theta});
  }
  if (held(day, temperature)) return declined(kHeld, data_hours);
  const auto fit = newest_fit(data, {temperature, barometer}, data_hours);
  if (!fit || (fit->half95 > kWide && fit->half95 > 0.25 * std::abs(fit->rate))) return declined(kNotEnough, data_hours);
  LeakResult r = scaled(fit->rate, fit->half95, used, temperature, atmosphere, volume);
  r.hours_of_data = data_hours;
  return r;
}

LeakResult LeakRate::scaled(double rate, double half95, const std::vector<const Block*>& used, bool temperature,
                            AbsolutePressure atmosphere, std::optional<Volume> volume) const {
  double log_p = 0, log_t = 0;
  for (const Block* b : used) log_p += b->log_p, log_t += b->log_t;
  const auto n = static_cast<double>(used.size());
  const AbsolutePressure p = AbsolutePressure::from_si(std::exp(log_p / n));
  const Temperature t = temperature ? Temperature::from_si(std::exp(log_t / n)) : kT0;
  const double service = in_psi(p) / kP0;

  LeakResult r;
  r.observable = true;
  r.at_service = Interval{rate * service, (rate - half95) * service, (rate + half95) * service};
  const double here = flow_per_amount(p, atmosphere, t);
  if (here > 0.0) {
    const double f = flow_per_amount(psia(kP0), kStandardAtmosphere, kT0) / here;
    const double half = std::hypot(half95, student_t(0.975, 1e9) * kRegimeSd * rate);
    r.at_40psi = Interval{rate * f, (rate - half) * f, (rate + half) * f};
  }
  if (volume && rate > 0.0) {
    const double share = rate / kP0 / 86400.0;  // of the content per second
    const Amount content = gas_amount(p, *volume, t);
    r.std_l_per_min = in_std_litres_per_minute(MolarFlow::from_si(share * content.si()));
    const double mass = share * content.si() * kMolarMassN2;
    const double area = mass / orifice_mass_flow(1.0, Area::from_si(1.0), p, atmosphere, t);
    if (std::isfinite(area)) r.hole_mm = 1000.0 * std::sqrt(4.0 / std::numbers::pi * area);
  }
  return r;
}

}  // namespace riserkeep
