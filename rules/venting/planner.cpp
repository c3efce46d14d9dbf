#include "rules/venting/planner.h"

#include <algorithm>
#include <cmath>

#include "rules/gas.h"
#include "rules/venting/inside.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr double kRefillShare = 1.4;         // a refill takes about 0.4 of the venting's length [from simulation]
constexpr Duration kAround = seconds(300);   // close, settle, hand over
constexpr Duration kLook = seconds(5);

bool wants(const Inside& in, SystemId id) {
  const VentState& v = in.vent(id);
  if (v.mode == Mode::watch || v.stage != PurgeStage::venting || busy(v) || v.locked || !in.site()[id].vent) return false;
  return !v.earliest_next || in.now() >= *v.earliest_next;
}

std::vector<SystemId> permitted_on(const Inside& in, SupplyId supply) {
  std::vector<SystemId> out;
  for (std::size_t i = 0; i < in.site().systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    if (in.site()[id].supply != supply || !wants(in, id) || !analyser_free_for(in.view, id)) continue;
    if (!permit(in.view, id, false).permitted()) continue;
    if (!in.vent(id).waits_since) in.vent(id).waits_since = in.now();
    out.push_back(id);
  }
  return out;
}

}  // namespace

double worth(const SiteView& view, SystemId id) {
  const System& s = view.site[id];
  const VentState& v = view.vent(id);
  const auto p = view.channels.pressure(view.site, s.pressure, view.now);
  const double k = share_vented_per_second(view, id);
  if (!s.vent || !s.purity || !p || k <= 0) return 0;
  const double y = v.follow.last_y.value_or(v.ledger.mean()), xs = feed_of(view, s.supply).oxygen.fraction();
  const double open = content_of(view, id, *p);
  const double shut = content_of(view, id, ladder_now(view, id).close_at);
  const double t = std::log(std::max(1.0, open / shut)) / k, q = circle(s.vent->bore).si() * open;
  const AnalyserState& a = view.analysers[s.purity->analyser.index];
  const double flush = a.sampling == PlaceId{id} ? 0 : in_seconds(view.site[s.purity->analyser].flush);
  return std::max(0.0, y - xs) * q * t / (kRefillShare * t + in_seconds(kAround) + flush);
}

std::optional<SystemId> next(const SiteView& view, const std::vector<SystemId>& permitted) {
  const auto starved = [&](SystemId id) {
    const auto& since = view.vent(id).waits_since;
    return since && view.now - *since > view.site.venting.starvation;
  };
  const auto before = [&](SystemId a, SystemId b) {
    const bool sa = starved(a), sb = starved(b);
    if (sa != sb) return sa;
    if (sa && *view.vent(a).waits_since != *view.vent(b).waits_since) return *view.vent(a).waits_since < *view.vent(b).waits_since;
    const double wa = worth(view, a), wb = worth(view, b);
    if (wa < wb || wb < wa) return wa > wb;
    return view.site[a].id < view.site[b].id;
  };
  const auto best = std::min_element(permitted.begin(), permitted.end(), before);
  return best == permitted.end() ? std::nullopt : std::optional{*best};
}

// Supplies in the order of their ids, so that the order in the site file decides nothing.
void give_turns(const Inside& in) {
  if (in.now().time_since_epoch() % kLook != Duration{}) return;
  std::vector<SupplyId> supplies;
  for (std::size_t i = 0; i < in.site().supplies.size(); ++i) supplies.push_back(SupplyId{static_cast<std::uint16_t>(i)});
  std::sort(supplies.begin(), supplies.end(), [&](SupplyId a, SupplyId b) { return in.site()[a].id < in.site()[b].id; });
  for (const SupplyId supply : supplies) {
    if (give_pulse(in, supply)) continue;   // a person waits: no other venting goes before
    for (int i = 0; i < in.site().venting.concurrent; ++i) {
      const auto id = next(in.view, permitted_on(in, supply));
      if (!id) break;
      begin_turn(in, *id);
    }
  }
}

}  // namespace riserkeep
