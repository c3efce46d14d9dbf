#include "daemon/runtime/mailbox.h"

#include <doctest/doctest.h>

#include <atomic>
#include <map>
#include <random>
#include <thread>

namespace riserkeep {
namespace {

Reading reading(int channel, std::int64_t ticks) {
  return {ChannelId{static_cast<std::uint16_t>(channel)}, EngineTime{Duration{ticks}}, ticks, Quality::good, Why::none};
}
LinkChanged link(std::size_t number) { return {LinkId{static_cast<std::uint16_t>(number)}, true}; }

TEST_CASE("mailbox keeps the newest reading per channel and everything else, in order of arrival") {
  const unsigned seed = std::random_device{}();
  CAPTURE(seed);
  std::mt19937 random(seed);
  for (int round = 0; round < 200; ++round) {
    constexpr int kChannels = 7;
    Mailbox box(kChannels, 100, {});
    std::map<int, std::int64_t> newest;
    std::vector<std::size_t> links;
    std::uint64_t readings = 0;
    const int pushes = static_cast<int>(random() % 400);
    for (int i = 0; i < pushes; ++i) {
      if (random() % 4 == 0 && links.size() < 100) {
        links.push_back(static_cast<std::size_t>(i));
        REQUIRE(box.push(link(links.back())));
      } else {
        const int channel = static_cast<int>(random() % kChannels);
        newest[channel] = i;
        ++readings;
        REQUIRE(box.push(reading(channel, i)));
      }
    }
    std::vector<Input> out;
    box.drain(out);
    std::int64_t last = -1;
    std::vector<std::size_t> seen_links;
    std::map<int, std::int64_t> seen;
    for (const auto& input : out) {
      const auto* r = std::get_if<Reading>(&input);
      const std::int64_t pushed = r ? *r->ticks : std::get<LinkChanged>(input).link.index;
      CHECK(pushed > last);
      last = pushed;
      if (r) CHECK(seen.emplace(r->channel.index, *r->ticks).second);
      else seen_links.push_back(std::get<LinkChanged>(input).link.index);
    }
    CHECK(seen == newest);
    CHECK(seen_links == links);
    CHECK(box.overtaken() == readings - newest.size());
    CHECK(box.refused() == 0);
  }
}

TEST_CASE("mailbox refuses at its bound instead of growing, and wakes once per filling") {
  int wakes = 0;
  Mailbox box(2, 3, [&] { ++wakes; });
  for (std::size_t i = 0; i < 5; ++i) CHECK(box.push(link(i)) == (i < 3));
  CHECK(box.push(reading(0, 1)));
  CHECK_FALSE(box.push(reading(9, 1)));
  CHECK(box.refused() == 3);
  CHECK(wakes == 1);
  std::vector<Input> out;
  box.drain(out);
  CHECK(out.size() == 4);
  CHECK(box.push(link(0)));
  CHECK(wakes == 2);
}

TEST_CASE("mailbox loses no command while threads push and the loop drains") {
  constexpr std::size_t kThreads = 3, kEach = 2000;
  std::atomic<int> wakes = 0;
  Mailbox box(4, kThreads * kEach, [&] { ++wakes; });
  std::atomic<std::size_t> finished = 0;
  std::vector<std::jthread> threads;
  for (std::size_t t = 0; t < kThreads; ++t)
    threads.emplace_back([&, t] {
      for (std::size_t i = 0; i < kEach; ++i) {
        box.push(link(t));
        box.push(reading(static_cast<int>(t), static_cast<std::int64_t>(i)));
      }
      ++finished;
    });
  std::map<std::size_t, std::size_t> links;
  std::map<std::size_t, std::int64_t> newest;
  for (bool last = false;;) {
    std::vector<Input> out;
    box.drain(out);
    for (const auto& input : out) {
      if (const auto* r = std::get_if<Reading>(&input)) {
        CHECK(*r->ticks >= newest[r->channel.index]);
        newest[r->channel.index] = *r->ticks;
      } else {
        ++links[std::get<LinkChanged>(input).link.index];
      }
    }
    if (last) break;
    last = finished == kThreads;
  }
  for (std::size_t t = 0; t < kThreads; ++t) {
    CHECK(links[t] == kEach);
    CHECK(newest[t] == static_cast<std::int64_t>(kEach) - 1);
  }
  CHECK(wakes >= 1);
}

}  // namespace
}  // namespace riserkeep
