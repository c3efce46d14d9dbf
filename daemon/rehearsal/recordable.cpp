#include "daemon/rehearsal/recordable.h"

#include <initializer_list>

namespace riserkeep {
namespace {

struct Wanted {
  std::optional<ChannelId>* channel;
  Signal signal;
};

void add(Site& site, PlaceId place, std::initializer_list<Wanted> wanted) {
  for (const Wanted& w : wanted) {
    if (*w.channel) continue;
    Channel c;
    c.place = place;
    c.signal = w.signal;
    *w.channel = ChannelId{static_cast<std::uint16_t>(site.channels.size())};
    site.channels.push_back(std::move(c));
  }
}

}  // namespace

void add_recordable_channels(Site& site) {
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    System& s = site.systems[i];
    add(site, PlaceId{PlaceKind::system, static_cast<std::uint16_t>(i)},
        {{&s.temperature, Signal::temperature}, {&s.low_air, Signal::low_air}, {&s.waterflow, Signal::waterflow},
         {&s.water_pressure, Signal::water_pressure}, {&s.oxygen, Signal::oxygen}});
  }
  for (std::size_t i = 0; i < site.supplies.size(); ++i) {
    Supply& s = site.supplies[i];
    add(site, PlaceId{PlaceKind::supply, static_cast<std::uint16_t>(i)},
        {{&s.pressure, Signal::supply_pressure}, {&s.running, Signal::supply_running}, {&s.air_bypass, Signal::air_bypass},
         {&s.flow_meter, Signal::supply_flow}, {&s.oxygen_meter, Signal::supply_oxygen}});
  }
  for (std::size_t i = 0; i < site.rooms.size(); ++i) {
    Room& r = site.rooms[i];
    add(site, PlaceId{PlaceKind::room, static_cast<std::uint16_t>(i)},
        {{&r.oxygen, Signal::room_oxygen}, {&r.temperature, Signal::room_temperature}, {&r.lockout, Signal::lockout},
         {&r.barometer, Signal::barometer}});
  }
}

}  // namespace riserkeep
