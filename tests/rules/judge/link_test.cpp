#include "rules/judge/link.h"

#include <doctest/doctest.h>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {
void read_all(House& h) {
  for (std::size_t i = 0; i < h.site.channels.size(); ++i) h.read(ChannelId{static_cast<std::uint16_t>(i)}, 1);
}
}  // namespace

TEST_CASE("link: down, or an instrument on it is silent") {
  House h;
  Bench<LinkRule> bus{h, LinkId{0}}, broker{h, LinkId{1}};
  read_all(h);
  CHECK(clear(bus.all()[0]));
  h.links[0] = {true, false, h.now};
  CHECK(std::get<Raise>(bus.all()[0]).priority == std::nullopt);
  CHECK(clear(broker.all()[0]));
  h.links[0] = {true, true, h.now};
  CHECK(clear(bus.all()[0]));

  h.now += seconds(61);
  for (const ChannelId c : {h.dock_low, h.dock_flow, h.room_temp, h.bypass, h.cell, h.archive_air, h.room_o2}) h.read(c, 1);
  CHECK(std::get<Raise>(bus.all()[0]).cause == "Loading dock pressure");
  h.bad(h.dock_air, Why::failed_low);   // it answers, if only nonsense: not the link's matter
  CHECK(clear(bus.all()[0]));
}

TEST_CASE("link: all silent means the box is blind") {
  House h;
  Bench<LinkRule> bus{h, LinkId{0}};
  read_all(h);
  h.links[0].up = h.links[1].up = false;
  const auto v = bus.all()[0];
  CHECK(std::get<Raise>(v).priority == Priority::high);
  CHECK(std::get<Raise>(v).cause == "the box is blind");
}

TEST_CASE("link: nothing heard yet is no silence until the stale time after the start") {
  House h;
  h.links[0] = LinkState{};
  Bench<LinkRule> bus{h, LinkId{0}};
  h.now = h.started + seconds(60);
  CHECK(clear(bus.all()[0]));
  h.now += seconds(1);
  CHECK(raises(bus.all()[0]));
}
