// A small site for the tests of formats and history: two systems, one supply, a shared analyser, one room.
#pragma once

#include "rules/site.h"

namespace riserkeep::testing {

inline Site small_site() {
  Site s;
  s.id = "QM-014";
  s.name = "Quillmere Storehouse";
  s.rooms.push_back({});
  s.rooms[0].id = s.rooms[0].name = "room";
  s.supplies.push_back({});
  s.supplies[0].id = "east-nitrogen";
  s.systems.resize(2);
  s.systems[0].id = "loading-dock";
  s.systems[1].id = "roof-void";
  s.links.push_back({"riser-bus", false});
  s.analysers.push_back({});
  s.analysers[0].id = "shared";
  const auto channel = [&](PlaceId p, Signal g, const char* auxiliary = "") {
    Channel c;
    c.place = p;
    c.signal = g;
    c.auxiliary_id = auxiliary;
    s.channels.push_back(c);
  };
  for (std::uint16_t i = 0; i < 2; ++i) {
    channel(SystemId{i}, Signal::pressure);
    channel(SystemId{i}, Signal::temperature);
    channel(SystemId{i}, Signal::low_air);
  }
  channel(AnalyserId{0}, Signal::oxygen);
  channel(SupplyId{0}, Signal::auxiliary, "dew-point");
  channel(RoomId{0}, Signal::room_oxygen);
  const auto output = [&](const char* id, OutputKind kind, PlaceId p) {
    Output o;
    o.id = id;
    o.kind = kind;
    o.place = p;
    s.outputs.push_back(o);
  };
  output("loading-dock vent", OutputKind::vent, SystemId{0});
  output("roof-void vent", OutputKind::vent, SystemId{1});
  output("shared port loading-dock", OutputKind::sample_port, SystemId{0});
  return s;
}

}  // namespace riserkeep::testing
