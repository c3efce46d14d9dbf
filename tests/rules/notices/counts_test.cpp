// How many messages: one per cause, few for what comes and goes, reminders until acknowledged.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "tests/rules/notices/watch.h"

using namespace riserkeep;

TEST_CASE("notices: one alarm is told once, acknowledged, and once it is back to normal") {
  Watch w;
  w.bad(ClassId::pressure_low, w.dock);
  w.run(seconds(69));                                  // on-delay 60 s, gathering 10 s
  CHECK(w.kinds() == "");
  w.run(seconds(2));
  REQUIRE(w.kinds() == "alarm");
  const Notice n = w.told()[0];
  CHECK(n.to == std::vector{PersonId{0}});
  CHECK(n.priority == Priority::high);
  CHECK(n.since == EngineTime{hours(1)} + seconds(1));
  CHECK(n.short_text.starts_with("HIGH Loading dock: air is low 30.4 psi, limit 31.0"));
  CHECK(n.short_text.ends_with("Ref " + n.references.at(0)));
  CHECK(n.subject == "QM-014: HIGH Loading dock: air is low (" + n.references[0] + ")");
  CHECK(n.long_text.find("riserkeep ack " + n.references[0] + " --by NAME") != std::string::npos);
  w.acknowledge(n.references[0]);
  w.run(hours(20));
  CHECK(w.kinds() == "alarm");                         // acknowledged: no reminder
  w.good(ClassId::pressure_low, w.dock);
  w.run(minutes(17));
  CHECK(w.kinds() == "alarm back_to_normal");
  CHECK(w.told()[1].short_text.find("over after 20 h 2 min") != std::string::npos);
  w.run(days(3));
  CHECK(w.kinds() == "alarm back_to_normal");
}

TEST_CASE("notices: reminders by priority until somebody acknowledges") {
  const struct { ClassId alarm; PlaceId place; Duration every; } rows[] = {
      {ClassId::near_trip, SystemId{0}, minutes(30)}, {ClassId::pressure_low, SystemId{0}, hours(4)},
      {ClassId::pressure_high, SystemId{0}, hours(24)}};
  for (const auto& row : rows) {
    CAPTURE(word(row.alarm));
    Watch w;
    w.bad(row.alarm, row.place);
    w.run(minutes(2));
    REQUIRE(w.kinds() == "alarm");
    w.run(3 * row.every);
    CHECK(w.kinds() == "alarm reminder reminder reminder");
    CHECK(w.told()[3].short_text.starts_with("Reminder: "));
    w.acknowledge_all();
    w.run(2 * row.every);
    CHECK(w.told().size() == 4);
  }
  Watch w;
  w.bad(ClassId::purge_overdue, w.dock);               // low
  w.run(days(4));
  CHECK(w.kinds() == "alarm");
}

TEST_CASE("notices: a gateway with 12 systems lost and back with one true alarm inside is 3 messages") {
  Watch w;
  w.systems(12);
  w.bad(ClassId::link_lost, LinkId{0});
  for (std::uint16_t i = 0; i < 12; ++i) w.unknown(ClassId::pressure_low, SystemId{i});
  w.run(minutes(20));
  CHECK(w.kinds() == "alarm");
  CHECK(w.told()[0].long_text.find("Loading dock") != std::string::npos);
  w.acknowledge_all();
  w.good(ClassId::link_lost, LinkId{0});
  for (std::uint16_t i = 0; i < 12; ++i) w.good(ClassId::pressure_low, SystemId{i});
  w.bad(ClassId::pressure_low, SystemId{7});
  w.run(hours(2));
  REQUIRE(w.told().size() == 3);
  CHECK(w.told()[0].place == PlaceId{LinkId{0}});
  const bool true_one_first = w.told()[1].place == PlaceId{SystemId{7}};
  CHECK(w.told()[true_one_first ? 1 : 2].kind == NoticeKind::alarm);
  CHECK(w.told()[true_one_first ? 2 : 1].kind == NoticeKind::back_to_normal);
}

TEST_CASE("notices: what a lost link explains is told when the link is back and it still stands") {
  Watch w;
  w.systems(12);
  w.bad(ClassId::link_lost, LinkId{0});
  w.run(seconds(35));
  for (std::uint16_t i = 0; i < 12; ++i) w.bad(ClassId::instrument_fault, SystemId{i});  // each explained
  w.run(minutes(20));
  REQUIRE(w.kinds() == "alarm");                       // one message for thirteen alarms
  w.good(ClassId::link_lost, LinkId{0});
  for (std::uint16_t i = 0; i < 12; ++i)
    if (i != 3) w.good(ClassId::instrument_fault, SystemId{i});
  w.unknown(ClassId::instrument_fault, SystemId{3});
  w.run(minutes(2));
  CHECK(w.kinds() == "alarm");                         // no reading has shown it yet
  w.bad(ClassId::instrument_fault, SystemId{3});
  w.run(seconds(2));
  REQUIRE(w.kinds() == "alarm still_bad");
  CHECK(w.told()[1].place == PlaceId{SystemId{3}});
  w.run(hours(1));
  CHECK(w.kinds() == "alarm still_bad back_to_normal");
  CHECK(w.told()[2].short_text.find("over after") != std::string::npos);
}

TEST_CASE("notices: alarms raised together with their cause are one message that names them") {
  Watch w;
  w.systems(4);
  w.bad(ClassId::near_trip, SystemId{2});
  w.run(seconds(3));
  w.bad(ClassId::rapid_loss, SystemId{2});             // raised later, yet the cause
  w.run(minutes(1));
  REQUIRE(w.kinds() == "alarm");
  CHECK(w.told()[0].references.size() == 2);
  CHECK(w.told()[0].short_text.find("air falls fast") != std::string::npos);
  CHECK(w.told()[0].long_text.find("air is near the trip point") != std::string::npos);
  w.good(ClassId::rapid_loss, SystemId{2});            // the cause is over, what it explained stands
  w.run(minutes(3));
  CHECK(w.kinds() == "alarm still_bad");
}

TEST_CASE("notices: a supply that fails over 4 systems is 1 message with each one's time to low air") {
  Watch w;
  w.systems(4);
  // 39, 38, 37, 36 psi, falling 0.6, 1.2, 1.8 and 0 psi an hour.
  for (int t = 0; t < 700; t += 2) {
    for (std::uint16_t i = 0; i < 4; ++i)
      w.read(w.site.systems[i].pressure, 39.0 - i - t / 3600.0 * (i == 3 ? 0.0 : 6.0 * (i + 1)));
    w.now += seconds(2);
  }
  Raise failed = Watch::raise(31, 30, "min");
  failed.cause = "Loading dock stays at 33.0 psi";
  w.set(ClassId::supply_failed, SupplyId{0}, failed);
  w.run(seconds(9));
  for (std::uint16_t i = 0; i < 4; ++i) w.read(w.site.systems[i].pressure, 39.0 - i - 709 / 3600.0 * (i == 3 ? 0.0 : 6.0 * (i + 1)));
  w.run(seconds(3));
  REQUIRE(w.kinds() == "alarm");
  const Notice n = w.told()[0];
  CAPTURE(n.long_text);
  // (39 - 1.18 - 28) / 6 = 1.64 h; (38 - 2.36 - 28) / 12 = 38 min; (37 - 3.54 - 28) / 18 = 18 min.
  CHECK(n.long_text.find("Loading dock in about 1 h 38 min") != std::string::npos);
  CHECK(n.long_text.find("Archive in about 38 min") != std::string::npos);
  CHECK(n.long_text.find("system-2 in about 18 min") != std::string::npos);
  CHECK(n.long_text.find("system-3 not known") != std::string::npos);
  CHECK(n.short_text.find("low air in 18 min at system-2") != std::string::npos);
  for (std::uint16_t i = 0; i < 4; ++i) w.bad(ClassId::pressure_low, SystemId{i});
  w.acknowledge_all();
  w.run(hours(6));
  CHECK(w.kinds() == "alarm");                         // the four that follow are explained
}

TEST_CASE("notices: one bus of two lost for a week is one message and a daily reminder") {
  Watch w;
  w.bad(ClassId::link_lost, LinkId{0});
  w.run(days(7));
  const auto told = w.told();
  CHECK(told.size() == 7);                             // the message, then six full days
  for (std::size_t i = 1; i < told.size(); ++i) CHECK(told[i].kind == NoticeKind::reminder);
}

TEST_CASE("notices: +-0.05 psi around a limit for 24 h is at most 3 messages") {
  Watch w;
  const PlaceId dock = w.dock;
  for (int t = 0; t < 86400; t += 2) {
    const double p = 31 + ((t / 2) % 2 ? 0.05 : -0.05);
    w.set(ClassId::pressure_low, dock, p < 31 ? Verdict{Watch::raise(p)} : p < 31.5 ? Verdict{Hold{}} : Verdict{Clear{}});
    w.second();
    w.second();
    if (w.told().size() == 1) w.acknowledge_all();
  }
  CHECK(w.kinds() == "alarm");
}

TEST_CASE("notices: a swing wider than the deadband for 24 h is at most 3 messages, whatever its period") {
  for (const int minutes_long : {4, 10, 15, 20, 30, 60, 120, 360, 960}) {
    CAPTURE(minutes_long);
    Watch w;
    const PlaceId dock = w.dock;
    bool seen = false;
    for (int t = 0; t < 86400; ++t) {
      const double p = 31.2 + 1.2 * std::sin(2 * std::numbers::pi * t / (60.0 * minutes_long));
      w.set(ClassId::pressure_low, dock, p < 31 ? Verdict{Watch::raise(p)} : p < 31.5 ? Verdict{Hold{}} : Verdict{Clear{}});
      w.second();
      if (!seen && w.told().size() == 1) {
        w.acknowledge_all();
        seen = true;
      }
    }
    CAPTURE(w.kinds());
    const std::size_t while_it_swings = w.told().size();
    CHECK(while_it_swings <= 3);
    CHECK(while_it_swings >= 1);
    w.good(ClassId::pressure_low, dock);
    w.run(hours(20));
    CHECK(w.told().size() <= while_it_swings + 1);     // one summary once it keeps still
    CHECK(w.told().back().kind == NoticeKind::back_to_normal);
  }
}

TEST_CASE("notices: a fast swing is called unstable after four raises in an hour, then one summary") {
  Watch w;
  for (int i = 0; i < 20; ++i) {
    w.bad(ClassId::pressure_low, w.dock);
    w.run(minutes(5));
    w.good(ClassId::pressure_low, w.dock);
    w.run(minutes(5));
  }
  CHECK(w.kinds() == "alarm unstable");
  CHECK(w.told()[1].short_text.starts_with("Comes and goes: HIGH Loading dock"));
  w.run(minutes(110));
  CHECK(w.kinds() == "alarm unstable");
  w.run(minutes(10));
  REQUIRE(w.kinds() == "alarm unstable back_to_normal");
  CHECK(w.told()[2].long_text.find("came and went 20 times") != std::string::npos);
}

TEST_CASE("notices: no data neither raises, clears nor repeats a message") {
  Watch w;
  w.bad(ClassId::pressure_low, w.dock);
  w.run(minutes(2));
  REQUIRE(w.kinds() == "alarm");
  for (const Duration gone : {Duration{minutes(1)}, Duration{hours(1)}, Duration{days(1)}}) {
    w.unknown(ClassId::pressure_low, w.dock);
    w.run(gone);
    CHECK(w.kinds() == "alarm");
    w.bad(ClassId::pressure_low, w.dock);
    w.run(minutes(1));
    CHECK(w.kinds() == "alarm");                       // the same state is no news
  }
  w.run(hours(4));
  CHECK(w.kinds() == "alarm reminder");
}

TEST_CASE("notices: what rests is recorded, not told, and told when that ends and it still stands") {
  Watch w;
  std::string why;
  REQUIRE(w.board.shelve(w.site, Shelve{{"pressure-low@loading-dock"}, hours(2), false, "waits for parts"}, "Ada", w.now, w.out, why));
  REQUIRE(w.board.shelve(w.site, Shelve{{"pressure-high@archive"}, hours(2), false, "waits for parts"}, "Ada", w.now, w.out, why));
  w.bad(ClassId::pressure_low, w.dock);
  w.bad(ClassId::pressure_high, w.archive);
  w.run(hours(1));
  w.good(ClassId::pressure_high, w.archive);
  w.run(minutes(50));
  CHECK(w.kinds() == "");
  CHECK(w.board.standing(ClassId::pressure_low, w.dock));
  w.run(minutes(11));
  REQUIRE(w.kinds() == "alarm");                       // the one that still stands
  CHECK(w.told()[0].place == PlaceId{w.dock});
}

TEST_CASE("notices: under work the expected is quiet, the rest of the site is not") {
  Watch w;
  w.work = {{w.dock, "R. Fitter", "valve overhaul", w.now, w.now + hours(4)}};
  w.bad(ClassId::near_trip, w.dock);
  w.bad(ClassId::room_oxygen, RoomId{0});
  w.run(hours(1));
  CHECK(w.told()[0].place == PlaceId{RoomId{0}});
  for (const Notice& n : w.told()) CHECK(n.place == PlaceId{RoomId{0}});
  w.acknowledge_all();
  const std::size_t before = w.told().size();
  w.work.clear();
  w.run(minutes(2));
  CHECK(w.told().size() == before);                    // acknowledged meanwhile: somebody knows
}

TEST_CASE("notices: a message told before it was shelved is not repeated while it rests") {
  Watch w;
  std::string why;
  w.bad(ClassId::pressure_low, w.dock);
  w.run(minutes(2));
  REQUIRE(w.kinds() == "alarm");
  REQUIRE(w.board.shelve(w.site, Shelve{{"pressure-low@loading-dock"}, hours(12), false, ""}, "Ada", w.now, w.out, why));
  w.run(hours(11));
  CHECK(w.kinds() == "alarm");
  w.run(hours(2));
  CHECK(w.kinds() == "alarm reminder");
}
