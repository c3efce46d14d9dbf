#include <nlohmann/json.hpp>

#include "daemon/service/resources_parts.h"
#include "rules/alarms/board.h"
#include "rules/judge/classes.h"
#include "rules/text.h"
#include "rules/venting/explain.h"
#include "rules/units.h"
#include "rules/venting/measure.h"
#include "rules/venting/purity.h"

namespace riserkeep::resources {
namespace {

Json interval(const std::optional<Interval>& i) {
  if (!i) return nullptr;
  return Json{{"value", rounded(i->value, 2)}, {"low95", rounded(i->low95, 2)}, {"high95", rounded(i->high95, 2)}};
}

Json air_document(const Labels& labels, SystemId id) {
  const SiteView& v = labels.view;
  const System& system = v.site[id];
  const Ladder steps = ladder_now(v, id);
  const auto now = v.channels.pressure(v.site, system.pressure, v.now);
  const ChannelState& state = v.channels[system.pressure];
  Json j;
  j["psi"] = now ? rounded(in_psi(*now), 3) : Json(nullptr);
  if (!now) j["why_not"] = word(v.channels.why_not(v.site, system.pressure, v.now));
  if (state.ever && state.ticks) j["last_psi"] = rounded(static_cast<double>(*state.ticks) * tick_of(Signal::pressure), 3);
  j["age_s"] = state.ever ? labels.age(state.measured) : Json(nullptr);
  j["band_low_psi"] = rounded(in_psi(system.band_low), 2);
  j["band_high_psi"] = rounded(in_psi(system.band_high), 2);
  j["in_band"] = now ? Json(*now >= system.band_low && *now <= system.band_high) : Json(nullptr);
  j["low_air_psi"] = rounded(in_psi(system.valve.low_air_switch), 2);
  j["trip_psi"] = steps.trip ? rounded(in_psi(*steps.trip), 2) : Json(nullptr);
  if (const std::string from = explain_trip(v, id); !from.empty()) j["trip_from"] = from;
  j["limit_psi"] = rounded(in_psi(steps.limit), 2);
  j["floor_psi"] = rounded(in_psi(steps.floor), 2);
  j["refilling"] = v.twin(id).refills().running();
  j["refills_24h"] = v.twin(id).refills().begun_within(hours(24), v.now);
  return j;
}

Json leak_document(const LeakResult& leak) {
  Json j;
  j["observable"] = leak.observable;
  if (!leak.observable) j["why_not"] = leak.why_not;
  j["psi_per_24h_service"] = interval(leak.at_service);
  j["psi_per_24h_at_40psi"] = interval(leak.at_40psi);
  j["hole_mm"] = number(leak.hole_mm, 3);
  j["std_l_per_min"] = number(leak.std_l_per_min, 3);
  j["hours_of_data"] = rounded(leak.hours_of_data, 1);
  return j;
}

Json vent_document(const Labels& labels, SystemId id) {
  const SiteView& v = labels.view;
  if (!v.site[id].vent) return nullptr;
  const VentState& vent = v.vent(id);
  Json j;
  j["state"] = vent_word(v, id);
  j["mode"] = word(vent.mode);
  j["phase"] = word(vent.phase);
  j["phase_since"] = labels.time(vent.phase_since);
  j["stage"] = word(vent.stage);
  j["opened"] = labels.time(vent.opened_at);
  j["shut_by"] = labels.time(vent.off_deadline);
  j["locked"] = vent.locked;
  if (vent.locked) j["locked_why"] = vent.locked_why;
  Json c{{"done", vent.commissioning.done}};
  if (vent.commissioning.done) {
    c["by"] = vent.commissioning.by;
    c["at"] = labels.time(vent.commissioning.at);
    c["at_engine_ms"] = vent.commissioning.at.time_since_epoch().count();
  }
  if (!vent.commissioning.voided_why.empty()) c["why_not"] = vent.commissioning.voided_why;
  if (vent.pulse_asked) c["asked"] = explain_pulse_asked(vent);
  j["commissioning"] = std::move(c);
  j["openings_24h"] = vent.openings.size();
  j["earliest_next"] = labels.time(vent.earliest_next);
  return j;
}

}  // namespace

Json purity_document(const Labels& labels, SystemId id) {
  const System& system = labels.view.site[id];
  if (!system.purity) return nullptr;
  const PurityResult p = purity_result(labels.view, id);
  Json j;
  j["target_percent"] = rounded(system.purity->target.purity_percent(), 2);
  j["grade"] = word(p.grade);
  if (p.oxygen) {
    j["purity_percent"] = rounded(p.oxygen->purity_percent(), 2);
    j["oxygen_percent"] = rounded(p.oxygen->percent(), 2);
    j["where"] = word(p.where);
    j["how"] = word(p.how);
    j["measured"] = labels.time(p.measured);
    j["age_s"] = labels.age(p.measured);
  } else {
    j["purity_percent"] = nullptr;
    j["why_not"] = "not measured yet";
  }
  j["ledger_percent"] = number(p.ledger_percent, 2);
  j["ledger_high95"] = number(p.ledger_high95, 2);
  j["target_at"] = labels.time(p.target_at);
  return j;
}

std::string vent_word(const SiteView& v, SystemId id) {
  const System& system = v.site[id];
  if (!system.vent) return "none";
  const OutputSeen& seen = v.outputs[system.vent->output.index];
  if (seen.state == OutputState::open) return "open";
  if (seen.state == OutputState::unknown) return "unsure";
  return v.vent(id).locked ? "locked" : "shut";
}

Json system_document(const Labels& labels, SystemId id) {
  const System& system = labels.view.site[id];
  Json j;
  j["id"] = system.id;
  j["name"] = system.name;
  j["kind"] = word(system.kind);
  j["air"] = air_document(labels, id);
  j["purity"] = purity_document(labels, id);
  j["leak"] = leak_document(labels.view.twin(id).leak());
  j["vent"] = vent_document(labels, id);
  return j;
}

Json alarm_list(const Labels& labels, std::optional<SystemId> only) {
  const SiteView& v = labels.view;
  Json list = Json::array();
  for (const auto& item : v.alarms.open()) {
    if (only && item.place != PlaceId(*only)) continue;
    const AlarmLifecycle& life = *item.life;
    const AlarmClass& row = class_of(item.alarm);
    Json j;
    j["reference"] = reference_of(life.id());
    j["alarm"] = word(item.alarm);
    j["point"] = place_id(v.site, item.place);
    j["place"] = place_name(v.site, item.place);
    j["priority"] = word(life.priority());
    j["category"] = word(row.category);
    j["state"] = word(life.state());
    j["since"] = labels.time(life.since());
    j["for_s"] = labels.age(life.since());
    j["what"] = row.what;
    j["value"] = number(life.value(), row.decimals);
    j["limit"] = number(life.limit(), row.decimals);
    j["unit"] = life.unit();
    j["decimals"] = row.decimals;
    j["cause"] = life.cause();
    j["act"] = row.act;
    j["first_action"] = first_action(v.site, item.alarm, item.place);
    if (!life.who().empty()) j["by"] = life.who();
    if (life.unproven()) j["confirmed"] = false;
    if (Json rest = rest_document(labels, item.alarm, item.place); !rest.is_null()) j["rest"] = std::move(rest);
    list.push_back(std::move(j));
  }
  return list;
}

}  // namespace riserkeep::resources
