// A thousand alarms in a minute through the engine: how long one step takes, and how many messages come of it.
// `alarm_flood [SYSTEMS]`; two alarms a system (air near the trip point, then air low).
#include <time.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <set>
#include <string>
#include <vector>

#include "rules/engine.h"

using namespace riserkeep;

namespace {

Site big_site(std::uint16_t systems) {
  Site site;
  site.id = "bench";
  site.name = "Bench";
  site.links = {{"bus", false}};
  for (const char* id : {"night", "works", "office"}) {
    Person p;
    p.id = id;
    p.calls_now = p.id == "night";
    site.people.push_back(p);
  }
  site.people[1].at = DayTime{};
  for (std::uint16_t i = 0; i < systems; ++i) {
    Room room;
    room.id = room.name = "room-" + std::to_string(i);
    site.rooms.push_back(room);
    Supply supply;
    supply.id = supply.name = "supply-" + std::to_string(i);
    supply.room = RoomId{i};
    site.supplies.push_back(supply);
    Channel c;
    c.place = SystemId{i};
    c.poll = seconds(2);
    c.link = LinkId{0};
    site.channels.push_back(c);
    System s;
    s.id = s.name = "system-" + std::to_string(i);
    s.room = RoomId{i};
    s.supply = SupplyId{i};
    s.valve.highest_water = psi(100);
    s.valve.low_air_switch = psig(28);
    s.air = {psig(35), psig(40), false};
    s.band_low = psig(31);
    s.band_high = psig(48);
    s.pressure = ChannelId{i};
    site.systems.push_back(s);
  }
  return site;
}

// Of this thread only, so that a busy machine does not show.
double cpu_ms() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) * 1e3 + static_cast<double>(t.tv_nsec) * 1e-6;
}

struct Figures {
  std::vector<double> readings, seconds;         // ms a step; those that ran a whole second apart
  std::size_t raised = 0, notices = 0;
  std::set<std::string> named;

  void take(const Effects& effects) {
    for (const Timed& t : effects) {
      if (const auto* a = std::get_if<AlarmChanged>(&t.effect)) raised += a->change == AlarmChange::raised;
      if (const auto* n = std::get_if<Notice>(&t.effect)) {
        ++notices;
        named.insert(n->references.begin(), n->references.end());
      }
    }
  }
};

void print(const char* what, std::vector<double> ms) {
  if (ms.empty()) return;
  std::ranges::sort(ms);
  const auto at = [&](double share) { return ms[std::min(ms.size() - 1, static_cast<std::size_t>(share * static_cast<double>(ms.size())))]; };
  std::printf("  %-28s %8zu steps, CPU: median %.4f ms, p99 %.4f ms, longest %.3f ms\n", what, ms.size(), at(0.5), at(0.99), ms.back());
}

}  // namespace

int main(int argc, char** argv) {
  const auto systems = static_cast<std::uint16_t>(argc > 1 ? std::atoi(argv[1]) : 500);
  Engine engine{big_site(systems), RuleSettings{}};
  Figures quiet, flood;
  std::uint64_t seq = 0;
  // Each gauge is read every 2 s. From `from` on, one system after the other stands at 20 psi.
  const std::int64_t from = 120'000, minute = 60'000, until = 400'000;
  for (std::int64_t ms = 0; ms < until; ms += 2'000)
    for (std::uint16_t i = 0; i < systems; ++i) {
      const std::int64_t at = ms + i * 2'000 / systems;
      const bool low = at - from >= i * minute / systems;
      const EngineTime now{Duration{at}};
      const Stamped s{Seq{++seq}, now, Reading{ChannelId{i}, now, low ? 20'000 : 38'000 + static_cast<std::int64_t>(seq % 7), Quality::good, Why::none}};
      Effects effects;
      const auto next = engine.next_deadline();
      const double begin = cpu_ms();
      engine.step(s, effects);
      const double took = cpu_ms() - begin;
      Figures& f = at < from ? quiet : flood;
      (next && now >= *next ? f.seconds : f.readings).push_back(took);
      f.take(effects);
    }
  std::printf("%u systems, 3 people\n", static_cast<unsigned>(systems));
  const auto together = [](const Figures& f) {
    std::vector<double> all = f.readings;
    all.insert(all.end(), f.seconds.begin(), f.seconds.end());
    return all;
  };
  print("before, all steps", together(quiet));
  print("flood, all steps", together(flood));
  print("before, whole seconds only", quiet.seconds);
  print("flood, whole seconds only", flood.seconds);
  std::printf("  %zu alarms raised, %zu messages that name %zu of them; the others are explained by these\n", flood.raised, flood.notices,
              flood.named.size());
}
