#include "rules/judge/leak.h"

#include <algorithm>
#include <vector>

#include "rules/gas.h"
#include "rules/judge/common.h"
#include "rules/judge/trend.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kLeastDays = 14, kMostDays = 60;
constexpr double kMemory = 7;          // each daily value rests on the newest 7 days
constexpr double kOneSided5Percent = 1.645;

// Why it cannot wait; empty: it can.
std::string urgency(const SiteView& view, SystemId id, const LeakRule::Params& p, const LeakResult& leak) {
  const System& s = view.site[id];
  if (leak.at_40psi && leak.at_40psi->low95 > in_psi_per_day(p.urgent)) return "more than 3 psi in 2 h";
  const auto now = view.channels.pressure(view.site, s.pressure, view.now);
  if (now && leak.at_service && leak.at_service->value > 0 && *now > s.valve.low_air_switch) {
    const double days_left = in_psi(*now - s.valve.low_air_switch) / leak.at_service->value;
    const Duration left = from_seconds(std::min(days_left, 1000.0) * 86400);
    if (left < p.low_air_in) return "unfed, low air in about " + duration_text(left);
  }
  const auto& flow = view.site[s.supply].flow;
  if (flow && leak.std_l_per_min && *leak.std_l_per_min > p.feed_share * in_std_litres_per_minute(*flow))
    return "takes " + fixed(100 * *leak.std_l_per_min / in_std_litres_per_minute(*flow), 0) + " % of the feed";
  return {};
}

double proven(const LeakResult& leak) {
  const double service = leak.at_service ? leak.at_service->low95 : 0;
  const double standard = leak.at_40psi ? leak.at_40psi->low95 : 0;
  return std::max(service, standard);
}

bool usable(const LeakResult& leak) { return leak.observable && (leak.at_service || leak.at_40psi); }

Verdict by_estimate(const SiteView& view, SystemId id, const LeakRule::Params& p) {
  const LeakResult& leak = view.twin(id).leak();
  if (!usable(leak)) return CannotTell{};
  const double limit = std::max(in_psi_per_day(p.limit), 2 * in_psi_per_day(p.baseline));
  if (proven(leak) <= limit) return proven(leak) > limit * (1 - p.deadband) ? Verdict{Hold{}} : Verdict{Clear{}};
  const Interval& shown = leak.at_service ? *leak.at_service : *leak.at_40psi;
  Raise r;
  r.value = shown.value;
  r.limit = limit;
  r.unit = "psi in 24 h";
  r.cause = urgency(view, id, p, leak);
  if (!r.cause.empty()) r.priority = Priority::high;
  return r;
}

void add_day(const LeakRule::Params& p, LeakRule::State& state, double value) {
  state.daily.push_back(value);
  while (state.daily.size() > kMostDays) state.daily.pop_front();
  if (state.daily.size() < kLeastDays) {
    state.growing = 0;
    return;
  }
  const std::vector<double> y(state.daily.begin(), state.daily.end());
  const double grown = theil_sen_slope(y) * static_cast<double>(y.size() - 1);
  state.last = y.back();
  state.first = y.back() - grown;
  const bool yes = mann_kendall_z(y, kMemory) > kOneSided5Percent && grown > in_psi_per_day(p.growth);
  state.growing = yes ? 2 : 1;
}

Verdict by_trend(const SiteView& view, SystemId id, const LeakRule::Params& p, LeakRule::State& state) {
  const LeakResult& leak = view.twin(id).leak();
  const std::int64_t today = view.now.time_since_epoch() / hours(24);
  if (today != state.day && leak.observable && leak.at_40psi) {
    state.day = today;
    add_day(p, state, leak.at_40psi->value);
  }
  if (state.growing == 0 || !leak.observable) return CannotTell{};
  if (state.growing == 1) return Clear{};
  Raise r;
  r.value = state.last;
  r.limit = state.first;
  r.unit = "psi in 24 h";
  r.cause = "from " + significant2(state.first) + " in " + fixed(static_cast<double>(state.daily.size()), 0) + " days";
  return r;
}

}  // namespace

void LeakRule::judge(const SiteView& view, PlaceId place, const Params& p, State& state, std::span<Verdict> out) {
  out[0] = by_estimate(view, system_of(place), p);
  out[1] = by_trend(view, system_of(place), p, state);
}

}  // namespace riserkeep
