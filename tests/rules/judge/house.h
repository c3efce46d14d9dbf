// A small fictional site with everything a rule looks at, and readings by hand.
#pragma once

#include <vector>

#include "rules/alarms/board.h"
#include "rules/judge/settings.h"
#include "rules/text.h"
#include "rules/view.h"

namespace riserkeep {

struct House {
  Site site;
  ChannelId dock_air, dock_low, dock_flow, room_o2, room_temp, bypass, cell, archive_air;
  SystemId dock{0}, archive{1};
  EngineTime now{hours(1)};
  std::optional<ChannelTable> channels;
  std::vector<Twin> twins;
  std::vector<VentState> vents;
  std::vector<OutputSeen> outputs;
  std::vector<SupplyState> supplies;
  std::vector<AnalyserState> analysers;
  std::vector<LinkState> links;
  std::array<BoxState, 4> box{};
  AlarmBoard board;
  EngineTime started{hours(1)};

  ChannelId channel(PlaceId place, Signal signal, Duration poll, Duration stale, std::optional<LinkId> link = LinkId{0}) {
    Channel c;
    c.place = place;
    c.signal = signal;
    c.poll = poll;
    c.stale_after = stale;
    c.link = link;
    site.channels.push_back(c);
    return ChannelId{static_cast<std::uint16_t>(site.channels.size() - 1)};
  }

  House() {
    site.id = "QM-014";
    site.name = "Quillmere Storehouse";
    site.links = {{"riser_bus", false}, {"broker", true}};
    dock_air = channel(dock, Signal::pressure, seconds(2), seconds(60));
    dock_low = channel(dock, Signal::low_air, seconds(2), seconds(60));
    dock_flow = channel(dock, Signal::waterflow, seconds(2), seconds(60));
    room_o2 = channel(RoomId{0}, Signal::room_oxygen, seconds(10), seconds(90), LinkId{1});
    room_temp = channel(RoomId{0}, Signal::room_temperature, seconds(10), seconds(90));
    bypass = channel(SupplyId{0}, Signal::air_bypass, seconds(10), seconds(90));
    cell = channel(AnalyserId{0}, Signal::oxygen, seconds(10), seconds(90));
    archive_air = channel(archive, Signal::pressure, seconds(2), seconds(60));
    Room room;
    room.id = "east";
    room.name = "East riser room";
    room.oxygen = room_o2;
    room.temperature = room_temp;
    site.rooms = {room};
    Supply supply;
    supply.id = "east-nitrogen";
    supply.name = "East nitrogen";
    supply.air_bypass = bypass;
    site.supplies = {supply};
    Analyser analyser;
    analyser.id = "shared";
    analyser.name = "Shared analyser";
    analyser.oxygen = cell;
    site.analysers = {analyser};
    Output output;
    output.id = "loading-dock vent";
    output.place = dock;
    site.outputs = {output};
    System s;
    s.id = "loading-dock";
    s.name = "Loading dock";
    s.valve.ratio = 5.5;
    s.valve.highest_water = psi(100);
    s.valve.low_air_switch = psig(28);
    s.air = {psig(35), psig(40), false};
    s.band_low = psig(31);
    s.band_high = psig(48);
    s.pressure = dock_air;
    s.low_air = dock_low;
    s.waterflow = dock_flow;
    s.vent = Vent{OutputId{0}, millimetres(1.0), 0.85, Tap::riser, {}};
    s.purity = PurityGoal{oxygen_percent(2.0), AnalyserId{0}, {}, {}, {}};
    site.systems.push_back(s);
    System a = s;
    a.id = "archive";
    a.name = "Archive";
    a.kind = SystemKind::preaction_double;
    a.pressure = archive_air;
    a.low_air = a.waterflow = std::nullopt;
    a.vent.reset();
    a.purity.reset();
    site.systems.push_back(a);
    reset();
  }

  void reset() {
    channels.emplace(site.channels.size());
    twins = std::vector<Twin>(site.systems.size());
    vents = std::vector<VentState>(site.systems.size());
    outputs = std::vector<OutputSeen>(site.outputs.size());
    supplies = std::vector<SupplyState>(site.supplies.size());
    analysers = std::vector<AnalyserState>(site.analysers.size());
    links = std::vector<LinkState>(site.links.size());
    for (LinkState& l : links) l = {true, true, now};
  }

  const CalendarBook* calendar = nullptr;
  SiteView view() const {
    return {site, now, started, *channels, twins, vents, outputs, supplies, analysers, links, box, board, nullptr, nullptr, nullptr, calendar};
  }

  void read(ChannelId c, double value, Quality q = Quality::good, Why why = Why::none) {
    const double ticks = value / tick_of(site[c].signal);
    const Reading r{c, now, q == Quality::bad ? std::nullopt : std::optional{static_cast<std::int64_t>(ticks + (ticks < 0 ? -0.5 : 0.5))}, q, why};
    channels->take(r);
    if (site[c].place.kind == PlaceKind::system) {
      const SystemId id{site[c].place.index};
      twins[id.index].reading(site, id, *channels, r);
    }
  }
  void bad(ChannelId c, Why why) { read(c, 0, Quality::bad, why); }
};

// One rule at one place with its own state, as the engine would hold it.
template <class R>
struct Bench {
  House& house;
  PlaceId place;
  typename R::Params params = fallback_params<R>();
  typename R::State state{};

  Bench(House& h, PlaceId p) : house(h), place(p) {}
  std::vector<Verdict> all() {
    std::vector<Verdict> out(R::info.classes.size(), Verdict{CannotTell{}});
    R::judge(house.view(), place, params, state, out);
    return out;
  }
  Verdict of(ClassId c) {
    auto out = all();
    for (std::size_t i = 0; i < out.size(); ++i)
      if (R::info.classes[i] == c) return out[i];
    return CannotTell{};
  }
};

inline bool raises(const Verdict& v) { return std::holds_alternative<Raise>(v); }
inline bool clear(const Verdict& v) { return std::holds_alternative<Clear>(v); }
inline bool holds(const Verdict& v) { return std::holds_alternative<Hold>(v); }
inline bool cannot(const Verdict& v) { return std::holds_alternative<CannotTell>(v); }

}  // namespace riserkeep
