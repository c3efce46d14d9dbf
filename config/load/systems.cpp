#include "config/load/systems.h"

#include <algorithm>

#include <fmt/format.h>

#include "config/load/params.h"
#include "config/load/places.h"
#include "config/load/times.h"
#include "config/load/wiring.h"
#include "rules/units.h"

namespace riserkeep {

namespace {

constexpr Bounds kAirPressure{0, 150 * kPascalPerPsi};
constexpr Bounds kWaterPressure{1 * kPascalPerPsi, 400 * kPascalPerPsi};
constexpr double kLongestTube = 40 * kMetrePerFoot;  // common practice

std::optional<GaugePressure> read_air(Section& s, std::string_view key, std::string_view example, bool compulsory) {
  const auto f = compulsory ? s.need(key, example) : s.get(key);
  const auto si = f ? read_quantity(*f, Dimension::pressure, kAirPressure) : std::nullopt;
  return si ? std::optional{GaugePressure::from_si(*si)} : std::nullopt;
}

void read_valve(const std::optional<Field>& f, System& sys) {
  if (!f) return;
  const std::string example = "{type: differential, ratio: 5.5, highest_water: 100 psi, low_air_switch: 28 psi}";
  Section s(*f, example);
  const bool falls_open = sys.kind == SystemKind::dry_pipe || sys.kind == SystemKind::preaction_non;
  const auto type = falls_open ? s.need("type", "type: differential") : s.get("type");
  sys.valve.kind = ValveKind::latched;
  if (type)
    if (const auto i = read_choice(*type, {"differential", "latched", "low differential"}))
      sys.valve.kind = static_cast<ValveKind>(*i);
  sys.valve.trips_at = read_air(s, "trips_at", "", false);
  const auto ratio = s.get("ratio");
  if (ratio) sys.valve.ratio = read_number(*ratio, {1.05, 10}).value_or(sys.valve.ratio);
  const auto water = s.get("highest_water");
  if (water)
    if (const auto si = read_quantity(*water, Dimension::pressure, kWaterPressure))
      sys.valve.highest_water = PressureChange::from_si(*si);
  if (const auto at = read_air(s, "low_air_switch", "low_air_switch: 28 psi", true)) sys.valve.low_air_switch = *at;
  if (const auto v = s.get("quick_opening")) sys.valve.quick_opening = read_flag(*v).value_or(false);
  if (!falls_open || !f->is_map() || !type) return;
  const bool differential = sys.kind == SystemKind::dry_pipe && sys.valve.kind == ValveKind::differential;
  if (differential && !water)
    f->error("'highest_water' is missing: it decides where the valve trips",
             "add 'highest_water: 100 psi', the highest normal water pressure below the valve");
  if (!differential && !s.has("trips_at"))
    f->error("'trips_at' is missing: losing air opens this valve",
             "add 'trips_at: 13 psi' from the valve's data sheet");
}

void read_air_maintenance(Build& b, SystemId id, const std::optional<Field>& f, System& sys) {
  if (!f) {
    sys.pressure = add_channel(b, {id, Signal::pressure, {}}, std::optional<Field>{});
    return;
  }
  Section s(*f, "{at: analog 30001, cut_in: 35 psi, cut_out: 40 psi}");
  const auto at = b.needs_wires() ? s.need("at", "at: analog 30001") : s.get("at");
  sys.pressure = add_channel(b, {id, Signal::pressure, {}}, at);
  const auto regulated = read_air(s, "regulated", "", false);
  sys.air.regulated = s.has("regulated");
  const auto cut_in = read_air(s, "cut_in", "cut_in: 35 psi", !sys.air.regulated);
  const auto cut_out = read_air(s, "cut_out", "cut_out: 40 psi", !sys.air.regulated);
  if (sys.air.regulated && cut_out) f->error("a regulator has no cut-out", "remove cut_out, or regulated");
  sys.air.cut_out = cut_out.value_or(regulated.value_or(GaugePressure{}));
  sys.air.cut_in = cut_in.value_or(sys.air.cut_out - psi(2));  // droop of a regulator
}

void read_band(const std::optional<Field>& f, System& sys) {
  sys.band_low = sys.valve.low_air_switch + 0.5 * (sys.air.cut_in - sys.valve.low_air_switch);
  sys.band_high = GaugePressure{1.2 * sys.air.cut_out.from_zero()};
  if (!f) return;
  if (const auto range = read_range(*f, Dimension::pressure, kAirPressure)) {
    sys.band_low = GaugePressure::from_si(range->first);
    sys.band_high = GaugePressure::from_si(range->second);
  }
}

void read_contacts(Build& b, SystemId id, const std::optional<Field>& f, System& sys) {
  if (!f) return;
  Section s(*f, "{low_air: contacts 10001, waterflow: contacts 10005}");
  sys.low_air = add_optional_channel(b, {id, Signal::low_air, {}}, s, "low_air");
  sys.waterflow = add_optional_channel(b, {id, Signal::waterflow, {}}, s, "waterflow");
  sys.fire = add_optional_channel(b, {id, Signal::fire, {}}, s, "fire");
}

void warn_of_long_tube(Section& s) {
  const auto f = s.get("tube");
  const auto length = f ? read_quantity(*f, Dimension::length, {0, 300}) : std::nullopt;
  if (length && *length > kLongestTube * (1 + 1e-9))
    f->warn(fmt::format("{} is longer than the 40 ft that are common practice: its resistance slows the venting",
                        f->node->text),
            "move the vent or its outlet nearer");
}

void read_vent(Build& b, SystemId id, const std::optional<Field>& f, System& sys) {
  if (!f) return;
  Section s(*f, "{relay: relays 1, bore: 1.0 mm, taps: riser}");
  const auto relay = b.needs_wires() ? s.need("relay", "relay: relays 1") : s.get("relay");
  Vent v;
  v.output = add_output(b, {sys.id + " vent", OutputKind::vent, id, {}}, relay);
  if (const auto k = s.need("bore", "bore: 1.0 mm"))
    if (const auto si = read_quantity(*k, Dimension::length, {0.05e-3, 15e-3})) v.bore = Length::from_si(*si);
  if (const auto k = s.need("taps", "taps: riser"))
    if (const auto i = read_choice(*k, {"riser", "far end"})) v.tap = static_cast<Tap>(*i);
  if (const auto k = s.get("discharge")) v.discharge = read_number(*k, {0.3, 1.0}).value_or(v.discharge);
  if (const auto k = s.get("valve_travel"))
    b.d.site.outputs[v.output.index].valve_travel = read_duration(*k, milliseconds(0), minutes(1)).value_or(seconds(1));
  if (const auto k = s.get("short_reaction")) v.short_reaction = read_text(*k);
  warn_of_long_tube(s);
  if (sys.air.regulated && v.tap == Tap::riser)
    f->warn("a regulator feeds at the riser while this vent draws there: a short circuit that never reaches the pipe",
            "move the vent to the far end");
  sys.vent = v;
}

// The analyser of a system: the one named, the only one, or in a replay one that nobody described.
std::optional<AnalyserId> choose_analyser(Build& b, Section& s, const System& sys) {
  auto& list = b.d.site.analysers;
  const auto f = s.get("analyser");
  if (f && b.wires_optional() && list.empty()) b.analyser_keys.push_back(read_text(*f).value_or("analyser"));
  if (list.empty() && b.wires_optional()) {
    Analyser a;
    a.name = f ? b.analyser_keys.back() : "analyser";
    a.id = slug(a.name);
    list.push_back(a);
    const ChannelId raw = add_channel(b, {AnalyserId{}, Signal::oxygen, {}}, std::optional<Field>{});
    list.back().oxygen = raw;
    if (!f) b.analyser_keys.push_back(a.name);
  }
  if (f) {
    const auto i = read_choice(*f, b.analyser_keys);
    return i && *i < list.size() ? std::optional{id_at<AnalyserId>(*i)} : std::nullopt;
  }
  if (list.size() == 1) return AnalyserId{};
  s.field().error(fmt::format("{} has no analyser", sys.name), "add 'analyser: NAME' and describe it under analysers:");
  return std::nullopt;
}

void read_purity(Build& b, SystemId id, const std::optional<Field>& f, System& sys) {
  if (!f) return;
  Section s(*f, "{target: 98 %, analyser: shared}");
  PurityGoal goal;
  if (const auto k = s.get("target"))
    if (const auto si = read_quantity(*k, Dimension::oxygen, {0.90, 0.9995}))
      goal.target = OxygenFraction::clamped(1.0 - *si);
  const auto analyser = choose_analyser(b, s, sys);
  if (!analyser) return;
  goal.analyser = *analyser;
  const auto& ports = b.d.site[*analyser].ports;
  for (const OutputId port : ports)
    if (b.d.site[port].place == PlaceId{id}) goal.port = port;
  if (!ports.empty() && !goal.port)
    f->error(fmt::format("the analyser's ports do not name this system"),
             fmt::format("add '{}: relays N' to its ports", sys.id));
  // As it was already attributed by whoever recorded it; never wired.
  sys.oxygen = add_channel(b, {id, Signal::oxygen, {}}, std::optional<Field>{});
  sys.purity = goal;
}

void read_purge(const std::optional<Field>& f, System& sys) {
  if (!f) return;
  Section s(*f, "{started: 2031-10-13T01:00:00Z, due: 2031-10-25T00:00:00Z}");
  const auto started = s.get("started");
  const auto due = s.get("due");
  if (!sys.purity) {
    f->error("a purge needs a purity target", "add purity: {target: 98 %, analyser: ...}");
    return;
  }
  if (started) sys.purity->purge_started = read_time(*started);
  if (due) sys.purity->purge_due = read_time(*due);
  if (sys.purity->purge_started && sys.purity->purge_due && *sys.purity->purge_due <= *sys.purity->purge_started)
    f->error("due is not after started", "look at the two times");
}

std::vector<std::string> ids_of(const auto& list) {
  std::vector<std::string> out;
  for (const auto& item : list) out.push_back(item.id);
  return out;
}

void read_where(Build& b, Section& s, System& sys) {
  const std::vector<std::string> kinds{"dry pipe", "preaction single", "preaction non", "preaction double"};
  if (const auto k = s.need("kind", "kind: dry pipe"))
    if (const auto i = read_choice(*k, kinds)) sys.kind = static_cast<SystemKind>(*i);
  sys.supply = id_at<SupplyId>(choose_one(s, "supply", ids_of(b.d.site.supplies), b.supply_keys, "supply"));
  sys.room = b.d.site[sys.supply].room;
  if (s.has("room") || b.d.site.supplies.empty())
    sys.room = id_at<RoomId>(choose_one(s, "room", ids_of(b.d.site.rooms), b.room_keys, "room"));
  else
    (void)s.get("room");
}

void read_overrides(Build& b, Section& s, SystemId id) {
  const auto f = s.get("rules");
  if (!f) return;
  AllParams own = b.d.rules.everywhere;
  read_rules(own, f);
  b.d.rules.systems.insert_or_assign(id, own);
}

void read_system(Build& b, const Field& f, const std::string& key) {
  const SystemId id = id_at<SystemId>(b.d.site.systems.size());
  b.d.site.systems.emplace_back();
  b.system_fields.push_back(f);
  const std::size_t errors_before = b.problems.errors();
  Section s(f, "{kind: dry pipe, valve: {...}, air: {...}}");
  System sys;
  sys.name = key;
  sys.id = slug(key);
  if (sys.id.empty()) f.error(fmt::format("'{}' gives no id", key), "use at least one letter a to z or digit");
  if (sys.id == "supply" || sys.id == "room-air")
    f.error(fmt::format("'{}' is reserved for a sample port", key), "give the system another name");
  read_where(b, s, sys);
  read_valve(s.need("valve", "valve: {type: differential, ratio: 5.5, highest_water: 100 psi, low_air_switch: 28 psi}"),
             sys);
  read_air_maintenance(b, id, s.need("air", "air: {at: analog 30001, cut_in: 35 psi, cut_out: 40 psi}"), sys);
  read_band(s.get("band"), sys);
  if (const auto v = s.get("volume"))
    if (const auto si = read_quantity(*v, Dimension::volume, {1e-3, 200})) sys.volume = Volume::from_si(*si);
  if (const auto v = s.get("cold_store")) sys.cold_store = read_flag(*v).value_or(false);
  sys.temperature = add_optional_channel(b, {id, Signal::temperature, {}}, s, "temperature");
  sys.water_pressure = add_optional_channel(b, {id, Signal::water_pressure, {}}, s, "water_pressure");
  read_contacts(b, id, s.get("contacts"), sys);
  read_vent(b, id, s.get("vent"), sys);
  read_purity(b, id, s.get("purity"), sys);
  read_purge(s.get("purge"), sys);
  read_overrides(b, s, id);
  read_auxiliary(b, s, id);
  b.d.site.systems[id.index] = std::move(sys);
  b.system_read_well.push_back(b.problems.errors() == errors_before);
}

}  // namespace

void read_systems(Build& b, Section& top) {
  const auto f = top.need("systems", "systems: {Loading dock: {kind: dry pipe, ...}}");
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here", "write the systems by name: Loading dock: {kind: dry pipe, ...}");
    return;
  }
  if (f->node->entries.empty()) f->error("there is no system", "describe at least one");
  for (const Entry& e : f->node->entries) read_system(b, f->of(e), e.key);
  if (f->node->entries.size() > 6)
    f->warn(fmt::format("{} systems on one box; six are common practice", f->node->entries.size()),
            "think of a second box: one supply and one analyser serve them all in turn");
}

}  // namespace riserkeep
