#include "rules/venting/measure.h"

#include <algorithm>

#include "rules/analyser.h"
#include "rules/gas.h"

namespace riserkeep {

std::vector<SystemId> systems_by_id(const Site& site) {
  std::vector<SystemId> out;
  for (std::size_t i = 0; i < site.systems.size(); ++i) out.push_back(SystemId{static_cast<std::uint16_t>(i)});
  std::sort(out.begin(), out.end(), [&](SystemId a, SystemId b) { return site[a].id < site[b].id; });
  return out;
}

Ladder ladder_now(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  return ladder(view.site, id, v.commissioning.fall_share_per_s, v.cut_in_seen, view.twin(id).water().highest(view.now));
}

double content_of(const SiteView& view, SystemId id, GaugePressure p) {
  const System& s = view.site[id];
  const auto kpa = view.channels.value(view.site, view.site[s.room].barometer, view.now);
  const AbsolutePressure outside = kpa ? AbsolutePressure::from_si(1000.0 * *kpa) : view.site.atmosphere;
  const double pa = to_absolute(p, outside).si();
  const auto gas = view.channels.value(view.site, s.temperature, view.now);
  return gas ? pa * celsius(20).si() / celsius(*gas).si() : pa;
}

// Half a minute as a rule; less for a plant of litres, whose times are all short.
Duration content_window(const SiteView& view, SystemId id) {
  const Duration poll = view.site[view.site[id].pressure].poll;
  return std::clamp<Duration>(view.site.venting.effect_deadline / 10, 3 * poll, std::max<Duration>(seconds(30), 3 * poll));
}

std::optional<double> content_now(const SiteView& view, SystemId id) {
  const auto mean = view.twin(id).pressure().mean(view.now - content_window(view, id), view.now);
  return mean ? std::optional{content_of(view, id, *mean)} : std::nullopt;
}

double share_vented_per_second(const SiteView& view, SystemId id) {
  const System& s = view.site[id];
  if (const double k = view.vent(id).commissioning.fall_share_per_s; k > 0) return k;
  if (!s.vent || !s.volume) return 0;
  return choked_share_per_second(s.vent->discharge, circle(s.vent->bore), *s.volume, celsius(20));
}

bool refilling(const SiteView& view, SystemId id) { return view.twin(id).refills().running(); }

bool supply_refilling(const SiteView& view, SupplyId supply) {
  for (std::size_t i = 0; i < view.site.systems.size(); ++i)
    if (view.site.systems[i].supply == supply && view.twins[i].refills().running()) return true;
  return false;
}

std::optional<EngineTime> last_refill_ended(const SiteView& view, SystemId id) {
  const auto& last = view.twin(id).refills().last();
  return last ? last->ended : std::nullopt;
}

Feed feed_of(const SiteView& view, SupplyId id) {
  const Supply& supply = view.site[id];
  const SupplyState& s = view.supplies[id.index];
  Feed f{supply.oxygen, false, supply.oxygen_meter.has_value(), {}};
  for (std::size_t i = 0; i < view.site.analysers.size(); ++i)
    if (port_for(view.site, AnalyserId{static_cast<std::uint16_t>(i)}, id)) f.measurable = true;
  if (s.oxygen) f = {*s.oxygen, true, true, s.oxygen_at};
  return f;
}

std::optional<OxygenFraction> feed_for_ledger(const SiteView& view, SupplyId id) {
  const Feed f = feed_of(view, id);
  const bool known = f.measured ? view.now - f.at <= view.site.venting.feed_sample_valid : !f.measurable;
  return known ? std::optional{f.oxygen} : std::nullopt;
}

std::optional<OxygenFraction> target_of(const SiteView& view, SystemId id) {
  const auto& goal = view.site[id].purity;
  return goal ? std::optional{goal->target} : std::nullopt;
}

bool busy(const VentState& v) { return v.phase != VentPhase::idle; }

bool vent_may_be_open(const VentState& v) {
  return v.phase == VentPhase::opening || v.phase == VentPhase::venting || v.phase == VentPhase::pulsing;
}

}  // namespace riserkeep
