#include "config/load/places.h"

#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

#include "config/load/wiring.h"
#include "rules/gas.h"
#include "rules/units.h"

namespace riserkeep {

namespace {

constexpr Bounds kRoomVolume{0.1, 1e5};
constexpr Bounds kFlow{1e-5, 100};  // mol/s; 3 scfm is 1.7

void check_time_zone(const Field& f, const std::string& zone) {
  const bool plain = zone.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789/_+-") ==
                         std::string::npos &&
                     zone[0] != '/';
  const std::filesystem::path zones = "/usr/share/zoneinfo";
  std::error_code code;
  const bool known =
      !std::filesystem::is_directory(zones, code) || std::filesystem::is_regular_file(zones / zone, code);
  if (!plain || !known)
    f.error(fmt::format("'{}' is not a time zone", zone), "write an IANA name like America/Chicago or Europe/Berlin");
}

std::string read_name(Section& s, std::string_view example) {
  const auto f = s.need("name", example);
  return f ? read_text(*f).value_or("") : "";
}

void set_id(const Field& f, const std::string& name, std::string& id) {
  id = slug(name);
  if (id.empty() && !name.empty())
    f.error(fmt::format("'{}' gives no id", name), "use at least one letter a to z or digit");
}

void read_room(Build& b, const Field& f, std::optional<Field> outside_oxygen) {
  Section s(f, "{name: East riser room, vents_go: outdoors}");
  const RoomId id = id_at<RoomId>(b.d.site.rooms.size());
  b.d.site.rooms.emplace_back();
  Room r;
  r.name = read_name(s, "name: East riser room");
  set_id(f, r.name, r.id);
  if (const auto v = s.get("volume"))
    if (const auto si = read_quantity(*v, Dimension::volume, kRoomVolume)) r.volume = Volume::from_si(*si);
  std::optional<std::size_t> goes;
  if (const auto v = s.need("vents_go", "vents_go: outdoors")) goes = read_choice(*v, {"outdoors", "into room"});
  r.vents_into_room = goes == std::size_t{1};
  const auto inside_oxygen = s.get("oxygen");
  if (inside_oxygen && outside_oxygen)
    inside_oxygen->error("the room's oxygen is given twice", "keep either room: {oxygen: ...} or room_oxygen:");
  if (const auto at = inside_oxygen ? inside_oxygen : outside_oxygen)
    r.oxygen = add_channel(b, {id, Signal::room_oxygen, {}}, at);
  r.temperature = add_optional_channel(b, {id, Signal::room_temperature, {}}, s, "temperature");
  r.barometer = add_optional_channel(b, {id, Signal::barometer, {}}, s, "barometer");
  r.lockout = add_optional_channel(b, {id, Signal::lockout, {}}, s, "vent_lockout");
  if (r.vents_into_room && !r.oxygen)
    f.error("vents go into the room, but nothing measures the room's oxygen: nitrogen would make it unsafe unseen",
            "add room_oxygen:, or lead the vents outdoors");
  read_auxiliary(b, s, id);
  b.d.site.rooms[id.index] = std::move(r);
}

// `one:` or the keyed map `many:`; calls read(field, key) for each.
template <class Read>
std::size_t each_of(Section& top, std::string_view one, std::string_view many, Read read) {
  const auto single = top.get(one);
  const auto several = top.get(many);
  if (single && several)
    several->error(fmt::format("'{}' and '{}' exclude each other", one, many), "move the one into the other");
  std::size_t count = 0;
  if (single) {
    read(*single, std::string{});
    ++count;
  }
  if (several && !several->is_map()) several->error("a map is expected here", "write it like east: {name: East ...}");
  if (several)
    for (const Entry& e : several->node->entries) {
      read(several->of(e), e.key);
      ++count;
    }
  return count;
}

void missing(Build& b, Section& top, std::string_view key, std::string_view example, std::string_view taken) {
  if (b.wires_optional())
    top.field().warn(fmt::format("'{}' is missing; {}", key, taken), fmt::format("add '{}'", example));
  else
    top.field().error(fmt::format("'{}' is missing", key), fmt::format("add '{}'", example));
}

void read_feed(Build& b, Section& s, Supply& r) {
  if (const auto v = s.get("source"))
    if (const auto i = read_choice(*v, {"generator", "cylinders", "compressor"}))
      r.source = static_cast<SupplySource>(*i);
  if (const auto v = s.get("flow"))
    if (const auto si = read_quantity(*v, Dimension::flow, kFlow)) r.flow = MolarFlow::from_si(*si);
  if (const auto v = s.need("purity", "purity: 99 %"))
    if (const auto si = read_quantity(*v, Dimension::oxygen, {0.5, 1.0})) r.oxygen = OxygenFraction::clamped(1.0 - *si);
  if (const auto v = s.get("refill_limit"))
    r.refill_limit = read_duration(*v, seconds(10), hours(24)).value_or(r.refill_limit);
  if (r.source == SupplySource::compressor && r.oxygen < oxygen_percent(20) && b.purpose != Purpose::replay)
    s.field().warn("a compressor gives air, about 79 % purity",
                   "write source: generator or cylinders if it is nitrogen");
}

void read_supply(Build& b, const Field& f) {
  Section s(f, "{name: East nitrogen, source: generator, purity: 99 %}");
  const SupplyId id = id_at<SupplyId>(b.d.site.supplies.size());
  b.d.site.supplies.emplace_back();
  Supply r;
  r.name = read_name(s, "name: East nitrogen");
  set_id(f, r.name, r.id);
  std::vector<std::string> rooms;
  for (const Room& room : b.d.site.rooms) rooms.push_back(room.id);
  r.room = id_at<RoomId>(choose_one(s, "room", rooms, b.room_keys, "room"));
  read_feed(b, s, r);
  r.pressure = add_optional_channel(b, {id, Signal::supply_pressure, {}}, s, "pressure");
  r.air_bypass = add_optional_channel(b, {id, Signal::air_bypass, {}}, s, "air_bypass");
  r.running = add_optional_channel(b, {id, Signal::supply_running, {}}, s, "running");
  r.flow_meter = add_optional_channel(b, {id, Signal::supply_flow, {}}, s, "flow_meter");
  r.oxygen_meter = add_optional_channel(b, {id, Signal::supply_oxygen, {}}, s, "oxygen_meter");
  read_auxiliary(b, s, id);
  b.d.site.supplies[id.index] = std::move(r);
}

}  // namespace

std::size_t choose_one(Section& map, std::string_view key, const std::vector<std::string>& ids,
                       const std::vector<std::string>& keys, std::string_view what) {
  const auto f = map.get(key);
  if (!f) {
    if (ids.size() > 1)
      map.field().error(fmt::format("there are {} to choose from, and '{}' is missing", ids.size(), key),
                        fmt::format("add '{}: {}'", key, ids.front()));
    return 0;
  }
  const auto text = read_text(*f);
  if (!text) return 0;
  const auto found = std::find(ids.begin(), ids.end(), slug(*text));
  if (found != ids.end()) return static_cast<std::size_t>(found - ids.begin());
  const auto by_key = std::find(keys.begin(), keys.end(), *text);
  if (by_key != keys.end()) return static_cast<std::size_t>(by_key - keys.begin());
  f->error(fmt::format("there is no {} '{}'", what, *text), suggest(slug(*text), ids));
  return 0;
}

void read_site(Build& b, Section& top) {
  Site& site = b.d.site;
  site.name = "Site";
  site.id = "site";
  site.time_zone = "UTC";
  const std::string example = "site: {name: Quillmere Storehouse, id: QM-014, time_zone: America/Chicago}";
  const auto f = b.wires_optional() ? top.get("site") : top.need("site", example);
  if (!f) return;
  Section s(*f, example);
  if (const auto v = s.need("name", "name: Quillmere Storehouse")) site.name = read_text(*v).value_or("");
  if (const auto v = s.need("id", "id: QM-014")) {
    site.id = read_text(*v).value_or("");
    if (site.id.find_first_of("/+# \t\"'<>&") != std::string::npos)
      v->error(fmt::format("'{}' cannot be part of a topic or an address", site.id),
               "use letters, digits, dots and dashes");
  }
  if (const auto v = s.need("time_zone", "time_zone: America/Chicago")) {
    site.time_zone = read_text(*v).value_or("");
    if (!site.time_zone.empty()) check_time_zone(*v, site.time_zone);
  }
  if (const auto v = s.get("elevation"))
    if (const auto si = read_quantity(*v, Dimension::length, {-450, 6000}))
      site.atmosphere = standard_atmosphere_at(*si);
}

void read_rooms(Build& b, Section& top) {
  const auto oxygen = top.get("room_oxygen");
  const bool many = top.has("rooms");
  if (oxygen && many) oxygen->error("which room this belongs to is not said", "move it into the room, as 'oxygen:'");
  const auto count = each_of(top, "room", "rooms", [&](const Field& f, const std::string& key) {
    b.room_keys.push_back(key);
    read_room(b, f, many ? std::nullopt : oxygen);
  });
  if (count > 0) return;
  missing(b, top, "room", "room: {name: East riser room, vents_go: outdoors}", "taken: one room, vents outdoors");
  Room r;
  r.id = "riser-room";
  r.name = "Riser room";
  b.d.site.rooms.push_back(r);
}

void read_supplies(Build& b, Section& top) {
  const auto count = each_of(top, "supply", "supplies", [&](const Field& f, const std::string& key) {
    b.supply_keys.push_back(key);
    read_supply(b, f);
  });
  if (count > 0) return;
  missing(b, top, "supply", "supply: {name: East nitrogen, source: generator, purity: 99 %}",
          "taken: one generator with 99 %");
  Supply r;
  r.id = "nitrogen";
  r.name = "Nitrogen";
  b.d.site.supplies.push_back(r);
}

void name_analysers_and_systems(Build& b, Section& top) {
  const auto names = [&top](std::string_view key, std::vector<std::string>& into) {
    if (!top.has(key)) return;
    if (const auto f = top.get(key); f && f->is_map())
      for (const Entry& e : f->node->entries) into.push_back(e.key);
  };
  names("analysers", b.analyser_keys);
  names("systems", b.system_keys);
}

void read_auxiliary(Build& b, Section& map, PlaceId place) {
  const auto f = map.get("auxiliary");
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like {door: {at: contacts 10012}}");
    return;
  }
  for (const Entry& e : f->node->entries) {
    const Field af = f->of(e);
    const bool plain =
        !e.key.empty() && e.key.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_-") == std::string::npos;
    const bool taken =
        std::any_of(kSignals.begin(), kSignals.end(), [&](const SignalInfo& i) { return i.word == e.key; });
    if (!plain || taken)
      af.error(
          taken ? fmt::format("'{}' is already the name of a signal", e.key) : fmt::format("'{}' is not an id", e.key),
          "use another name of small letters, digits and dashes");
    add_channel(b, {place, Signal::auxiliary, e.key}, af);
  }
}

}  // namespace riserkeep
