#include "plant_fixture.h"

#include <doctest/doctest.h>

#include <string>

namespace riserkeep::plant_test {

namespace {
struct Builder {
  Bench b;

  ChannelId channel(PlaceId place, Signal signal, RegisterPoint where) {
    const ChannelId id{static_cast<std::uint16_t>(b.site.channels.size())};
    Channel c;
    c.place = place;
    c.signal = signal;
    c.link = LinkId{0};
    b.site.channels.push_back(c);
    where.channel = id;
    where.link = LinkId{0};
    b.wiring.registers.push_back(where);
    return id;
  }
  OutputId output(std::string id, OutputKind kind, PlaceId place, int coil) {
    const OutputId o{static_cast<std::uint16_t>(b.site.outputs.size())};
    Output out;
    out.id = std::move(id);
    out.kind = kind;
    out.place = place;
    out.link = LinkId{0};
    out.device_time_out = seconds(20);
    if (kind == OutputKind::sample_port) out.analyser = AnalyserId{0};
    b.site.outputs.push_back(out);
    b.wiring.coils.push_back({o, LinkId{0}, 1, coil, "relays", DeviceTimeOut{100, seconds(20), 1}});
    return o;
  }
  void system(int i) {
    System s;
    s.id = i == 0 ? "north-hall" : "south-hall";
    s.name = i == 0 ? "North hall" : "South hall";
    s.valve.highest_water = psi(100);
    s.valve.low_air_switch = psig(28);
    s.air = {psig(35), psig(40), false};
    s.volume = Volume::from_si(2.0);
    const SystemId id = system_no(i);
    RegisterPoint loop{{}, {}, 3, RegisterTable::input_register, i, "analog", ValueType::uint16, WordOrder::abcd, {}};
    loop.conversion.loop = CurrentLoop{0.001, 0, 200};
    b.pressure[i] = s.pressure = channel(id, Signal::pressure, loop);
    RegisterPoint bit{{}, {}, 4, RegisterTable::discrete_input, i, "contacts", ValueType::bit, WordOrder::abcd, {}};
    b.low_air[i] = channel(id, Signal::low_air, bit);
    bit.address = 4 + i;
    bit.conversion.inverted = true;
    b.waterflow[i] = channel(id, Signal::waterflow, bit);
    bit.address = 8 + i;
    bit.conversion.inverted = false;
    b.vent_contact[i] = channel(id, Signal::vent_open, bit);
    s.low_air = b.low_air[i];
    s.waterflow = b.waterflow[i];
    b.vent[i] = output(s.id + " vent", OutputKind::vent, id, i);
    s.vent = Vent{b.vent[i], millimetres(1.0), 0.85, i == 0 ? Tap::riser : Tap::far_end, std::nullopt};
    b.port[i] = output(s.id + " port", OutputKind::sample_port, id, 4 + i);
    s.purity = PurityGoal{oxygen_percent(2), AnalyserId{0}, b.port[i], std::nullopt, std::nullopt};
    b.site.systems.push_back(s);
  }
};
}  // namespace

Bench bench() {
  Builder build;
  Site& site = build.b.site;
  site.id = "bench";
  site.rooms.push_back({"east-riser-room", "East riser room", {}, false, {}, {}, {}, {}});
  site.links.push_back({"relay_bus", false});
  build.b.wiring.links.push_back({LinkId{0}, ModbusTcp{"127.0.0.1", 502}, seconds(1), {}, {}});
  Supply supply;
  supply.id = "east-nitrogen";
  supply.name = "East nitrogen";
  supply.flow = MolarFlow::from_si(0.06);
  site.supplies.push_back(supply);
  Analyser a;
  a.id = "shared";
  RegisterPoint oxygen{{}, {}, 7, RegisterTable::input_register, 0, "oxygen", ValueType::float32, WordOrder::cdab, {}};
  build.b.oxygen = a.oxygen = build.channel(AnalyserId{0}, Signal::oxygen, oxygen);
  site.analysers.push_back(a);
  build.system(0);
  build.system(1);
  build.b.supply_port = build.output("supply port", OutputKind::sample_port, SupplyId{0}, 7);
  site.analysers[0].ports = {build.b.port[0], build.b.port[1], build.b.supply_port};
  RegisterPoint feed{{}, {}, 7, RegisterTable::holding_register, 10, "feed", ValueType::int16, WordOrder::abcd, {}};
  feed.conversion.scale = 0.01;
  build.b.supply_oxygen = build.channel(SupplyId{0}, Signal::supply_oxygen, feed);
  RegisterPoint lock{{}, {}, 4, RegisterTable::discrete_input, 12, "contacts", ValueType::bit, WordOrder::abcd, {}};
  build.b.lockout = build.channel(RoomId{0}, Signal::lockout, lock);
  return build.b;
}

Scenario still(const Site& site) {
  Scenario out;
  out.barometer_swing = PressureChange{};
  for (const System& s : site.systems) {
    SystemTruth t;
    t.volume = *s.volume;
    t.leak = PressureRate{};
    t.wall_mean = celsius(20);
    t.gas_lag_seconds = 0;
    t.gauge_noise = PressureChange{};
    t.initial_fill = 1;
    t.vent_discharge = 1;
    out.systems.push_back(t);
  }
  for (const Supply& s : site.supplies) out.supplies.push_back({*s.flow, oxygen_percent(0.5), OxygenFraction{}});
  for (std::size_t i = 0; i < site.analysers.size(); ++i) out.analysers.push_back({1, 0, 0, 0, MolarFlow{}});
  return out;
}

void run(SimulatedRoom& room, Duration d) { room.advance(d); }

}  // namespace riserkeep::plant_test

using namespace riserkeep;

TEST_CASE("plant: the scenarios describe every part of any site and depend on the seed only") {
  const auto bench = plant_test::bench();
  const Scenario a = default_scenario(bench.site, 5), b = default_scenario(bench.site, 5),
                 c = default_scenario(bench.site, 6);
  REQUIRE(a.systems.size() == 2);
  REQUIRE(a.supplies.size() == 1);
  REQUIRE(a.analysers.size() == 1);
  CHECK(a.systems[1].leak == b.systems[1].leak);
  CHECK(a.systems[1].leak != c.systems[1].leak);
  CHECK(a.systems[0].volume == *bench.site.systems[0].volume);
}
