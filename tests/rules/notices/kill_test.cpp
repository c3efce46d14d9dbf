// Killed at any second, nothing is lost and nothing told twice: keep and restore between all seconds gives
// the same messages, byte for byte. And a flood of alarms loses nothing.
#include <doctest/doctest.h>

#include <cstdlib>
#include <random>
#include <set>

#include "tests/rules/notices/watch.h"

using namespace riserkeep;

namespace {

std::uint64_t first_seed() {
  const char* given = std::getenv("RISERKEEP_SEED");
  return given ? std::strtoull(given, nullptr, 10) : 20'261'125;
}

// Hours of alarms that come and go at several places, acknowledgements, mornings and quiet hours.
struct Story : Watch {
  std::mt19937_64 random;
  explicit Story(std::uint64_t seed) : random(seed) {
    person("night", true).after = minutes(15);
    person("works").at = DayTime{};
    systems(5);
  }
  Verdict some(ClassId c) {
    switch (random() % 4) {
      case 0: return Clear{};
      case 1: return CannotTell{};
      default: {
        Raise r = raise();
        if (c == ClassId::room_cold && random() % 2) r.priority = Priority::medium;
        return r;
      }
    }
  }
  void live(Duration d) {
    const AlarmKey keys[] = {{ClassId::near_trip, SystemId{0}}, {ClassId::rapid_loss, SystemId{0}}, {ClassId::pressure_low, SystemId{1}},
                             {ClassId::pressure_low, SystemId{2}}, {ClassId::pressure_high, SystemId{3}}, {ClassId::supply_failed, SupplyId{0}},
                             {ClassId::link_lost, LinkId{0}}, {ClassId::instrument_fault, SystemId{4}}, {ClassId::room_cold, RoomId{0}},
                             {ClassId::history_fault, PlaceId{}}, {ClassId::vent_stuck_open, SystemId{2}}};
    for (const EngineTime end = now + d; now < end;) {
      if (random() % 40 == 0) {
        const AlarmKey& k = keys[random() % std::size(keys)];
        set(k.first, k.second, some(k.first));
      }
      if (random() % 600 == 0) acknowledge_all();
      if (random() % 900 == 0) turn(CalendarKey::quiet_hours, static_cast<std::uint16_t>(random() % 3), random() % 2 == 0);
      if (random() % 1800 == 0) turn(CalendarKey::morning, 2);
      second();
    }
  }
};

}  // namespace

TEST_CASE("notices: killed and restored at every second, the messages are the same") {
  for (std::uint64_t seed = first_seed(); seed < first_seed() + 3; ++seed) {
    INFO("seed ", seed);
    Story whole{seed}, cut{seed};
    cut.cut_everywhere = true;
    whole.live(hours(3));
    cut.live(hours(3));
    CHECK(whole.told().size() > 20);
    CHECK(whole.script() == cut.script());
  }
}

TEST_CASE("notices: numbers of messages grow by one, every raise that stands is told or explained") {
  Story s{first_seed() + 77};
  s.live(hours(6));
  std::uint64_t last = 0;
  std::set<std::string> named;
  for (const Notice& n : s.told()) {
    CHECK(static_cast<std::uint64_t>(n.id) == last + 1);
    last = static_cast<std::uint64_t>(n.id);
    named.insert(n.references.begin(), n.references.end());
    CHECK_FALSE(n.to.empty());
  }
  s.turn(CalendarKey::quiet_hours, 0, false);
  s.run(minutes(30));
  for (const Notice& n : s.told()) named.insert(n.references.begin(), n.references.end());
  for (const auto& item : s.board.open()) {
    if (item.life->state() != AlarmState::unacknowledged) continue;
    const std::string reference = reference_of(item.life->id());
    CAPTURE(reference);
    // Told, or its cause is; or it comes and goes and was told so with an earlier occurrence.
    const bool explained = s.board.explained_by(s.site, item.alarm, item.place).has_value();
    bool point_told = false;
    for (const Timed& t : s.out)
      if (const auto* a = std::get_if<AlarmChanged>(&t.effect); a && a->alarm == item.alarm && a->place == item.place) point_told |= named.contains(a->reference);
    CHECK((named.contains(reference) || explained || point_told));
  }
}

TEST_CASE("notices: 1000 alarms in a minute are all named, in few messages") {
  Watch w;
  w.site.messages.flood_within = minutes(10);
  w.systems(250);
  const ClassId classes[] = {ClassId::near_trip, ClassId::vent_blocked, ClassId::pressure_high, ClassId::instrument_fault};
  // Each system on a supply of its own, so that nothing is grouped.
  for (std::uint16_t i = 1; i < 250; ++i) {
    w.site.supplies.push_back(w.site.supplies[0]);
    w.site.systems[i].supply = SupplyId{i};
  }
  std::size_t raised = 0;
  for (int second = 0; second < 60; ++second) {
    for (int n = 0; n < 17 && raised < 1000; ++n, ++raised) {
      const AlarmKey key{classes[raised % 4], SystemId{static_cast<std::uint16_t>(raised / 4)}};
      Raise r = Watch::raise();
      r.on_delay = Duration{};
      w.set(key.first, key.second, r);
    }
    w.second();
  }
  w.run(minutes(40));
  std::set<std::string> named;
  for (const Notice& n : w.told())
    if (n.kind == NoticeKind::alarm || n.kind == NoticeKind::digest) named.insert(n.references.begin(), n.references.end());
  CHECK(named.size() == 1000);
  CHECK(w.told().size() < 40);
  MESSAGE("1000 alarms: ", w.told().size(), " messages in 41 min");
}
