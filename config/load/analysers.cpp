// analysers: their cell, their sampling line, their ports.
#include <algorithm>

#include <fmt/format.h>

#include "config/load/places.h"
#include "config/load/wiring.h"
#include "rules/units.h"

namespace riserkeep {

namespace {

constexpr Bounds kLineLength{0, 300};
constexpr double kLongestTube = 40 * kMetrePerFoot;  // common practice

// "loading-dock", "supply", "room_air": what a port draws from, and the word for its output id.
std::optional<PlaceId> port_place(Build& b, const std::string& key) {
  if (key == "room_air") return b.d.site.rooms.empty() ? PlaceId{} : PlaceId{RoomId{}};
  if (key == "supply" && b.d.site.supplies.size() == 1) return PlaceId{SupplyId{}};
  for (std::size_t i = 0; i < b.system_keys.size(); ++i)
    if (slug(b.system_keys[i]) == slug(key)) return PlaceId{id_at<SystemId>(i)};
  for (std::size_t i = 0; i < b.d.site.supplies.size(); ++i)
    if (b.d.site.supplies[i].id == slug(key)) return PlaceId{id_at<SupplyId>(i)};
  for (std::size_t i = 0; i < b.d.site.rooms.size(); ++i)
    if (b.d.site.rooms[i].id == slug(key)) return PlaceId{id_at<RoomId>(i)};
  return std::nullopt;
}

void read_ports(Build& b, const Field& f, AnalyserId id, Analyser& a) {
  if (!f.is_map()) {
    f.error("a map is expected here", "write it like {loading-dock: relays 5, supply: relays 8, room_air: relays 9}");
    return;
  }
  std::vector<std::string> known{"supply", "room_air"};
  for (const std::string& key : b.system_keys) known.push_back(slug(key));
  for (const Entry& e : f.node->entries) {
    const Field pf = f.of(e);
    const auto place = port_place(b, e.key);
    if (!place) {
      pf.error("nothing of this name can be sampled", suggest(e.key, known));
      continue;
    }
    if (place->kind == PlaceKind::supply) b.d.site.supplies[place->index].analyser = id;
    const std::string word = e.key == "supply" || e.key == "room_air" ? e.key : slug(e.key);
    a.ports.push_back(add_output(b, {a.id + " port " + word, OutputKind::sample_port, *place, id}, pf));
  }
}

void read_tube(Section& s, std::string_view key) {
  const auto f = s.get(key);
  if (!f) return;
  const auto length = read_quantity(*f, Dimension::length, kLineLength);
  if (length && *length > kLongestTube * (1 + 1e-9))
    f->warn(fmt::format("{} is longer than the 40 ft that are common practice: slow to flush and slow to answer",
                        f->node->text),
            "move the analyser or the vent nearer");
}

void read_analyser(Build& b, const Field& f, const std::string& key) {
  Section s(f, "{link: riser_bus, unit: 7, register: 30001, scale: 0.01 % O2}");
  const AnalyserId id = id_at<AnalyserId>(b.d.site.analysers.size());
  b.d.site.analysers.emplace_back();
  Analyser a;
  a.id = slug(key);
  a.name = key;
  if (const auto v = s.get("name")) a.name = read_text(*v).value_or(key);
  if (const auto v = s.get("cell"))
    if (const auto i = read_choice(*v, {"galvanic", "zirconia", "optical"})) a.cell = static_cast<Cell>(*i);
  if (const auto v = s.get("flush")) a.flush = read_duration(*v, seconds(1), hours(4)).value_or(a.flush);
  if (const auto v = s.get("line_delay")) a.line_delay = read_duration(*v, seconds(0), hours(1)).value_or(a.line_delay);
  if (const auto v = s.get("t90")) a.t90 = read_duration(*v, milliseconds(100), minutes(30)).value_or(a.t90);
  if (a.flush < a.line_delay)
    f.error("flush is shorter than line_delay: no sample would belong to its system",
            "flush is 5 line volumes + 3 x T90");
  read_tube(s, "tube");
  a.oxygen = add_channel(b, {id, Signal::oxygen, {}}, s);
  if (!b.d.site[a.oxygen].link && b.needs_wires() && !s.has("at") && !s.has("topic") && !s.has("register"))
    f.error("where its reading comes from is missing", "add link:, unit: and register:, or a topic:");
  const auto ports = s.get("ports");
  b.d.site.analysers[id.index] = a;
  if (ports) read_ports(b, *ports, id, a);
  b.d.site.analysers[id.index] = std::move(a);
}

}  // namespace

void read_analysers(Build& b, Section& top) {
  const auto f = top.get("analysers");
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here",
             "write it like shared: {link: riser_bus, unit: 7, register: 30001, scale: 0.01 % O2}");
    return;
  }
  for (const Entry& e : f->node->entries) read_analyser(b, f->of(e), e.key);
}

}  // namespace riserkeep
