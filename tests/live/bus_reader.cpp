// Reads one Modbus TCP server by the product's own bus thread and prints what it would tell the engine: for a
// comparison with a server that is not ours. Usage: bus_reader PORT. Opens the vent on coil 4 of unit 9 once,
// waits for a line on standard input, then leaves the way the daemon does.
#include <cstdio>
#include <cstdlib>
#include <iostream>
#include <map>
#include <mutex>
#include <string>

#include "../drivers/bench.h"
#include "drivers/modbus/bus.h"

using namespace riserkeep;

namespace {

struct Kind { RegisterTable table; int address; ValueType type; WordOrder order; };
constexpr Kind kPoints[] = {
    {RegisterTable::input_register, 0, ValueType::uint16, WordOrder::abcd},
    {RegisterTable::input_register, 1, ValueType::int16, WordOrder::abcd},
    {RegisterTable::input_register, 10, ValueType::float32, WordOrder::abcd},
    {RegisterTable::input_register, 12, ValueType::float32, WordOrder::cdab},
    {RegisterTable::input_register, 14, ValueType::float32, WordOrder::badc},
    {RegisterTable::input_register, 16, ValueType::float32, WordOrder::dcba},
    {RegisterTable::holding_register, 20, ValueType::int32, WordOrder::abcd},
    {RegisterTable::holding_register, 22, ValueType::uint32, WordOrder::cdab},
    {RegisterTable::discrete_input, 3, ValueType::bit, WordOrder::abcd},
    {RegisterTable::coil, 7, ValueType::bit, WordOrder::abcd},
    {RegisterTable::input_register, 9000, ValueType::uint16, WordOrder::abcd},   // the server has none
};

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const Site site = bench::site(std::size(kPoints), 1, milliseconds(100));
  std::vector<RegisterPoint> points;
  for (std::size_t i = 0; i < std::size(kPoints); ++i) {
    RegisterPoint p = bench::point(static_cast<std::uint16_t>(i), 9, kPoints[i].address, kPoints[i].type);
    p.table = kPoints[i].table;
    p.order = kPoints[i].order;
    points.push_back(p);
  }
  bench::RealClock clock;
  bench::Collector got;
  ModbusBus bus(site, bench::tcp_link(std::atoi(argv[1]), seconds(1)), points, {bench::coil(0, 9, 4)}, clock, got.sink());
  bus.start();
  const bool read = bench::until(seconds(10), [&] { return got.readings().size() > 5 * std::size(kPoints); });
  bus.order(bench::open_order(OutputId{0}, 1, clock.now(), minutes(1)));
  const bool opened = bench::until(seconds(3), [&] { return got.saw(OutputId{0}, OutputOutcome::confirmed, OutputState::open); });
  std::map<int, Reading> newest;
  for (const Reading& r : got.readings()) newest[r.channel.index] = r;
  for (const auto& [channel, r] : newest) {
    std::cout << channel << ' ' << (r.ticks ? std::to_string(*r.ticks) : "-") << ' ' << static_cast<int>(r.quality) << '\n';
  }
  for (const std::string& point : bus.health().disabled_points) std::cout << "disabled " << point << '\n';
  std::cout << (read && opened ? "ready" : "failed") << std::endl;
  std::string line;
  std::getline(std::cin, line);
  bus.stop();
  return read && opened ? 0 : 1;
}
