// Who is told, and when: urgency, quiet hours, mornings, escalation, places, flood.
#include <doctest/doctest.h>

#include "rules/notices/urgency.h"
#include "rules/tasks/chores.h"
#include "rules/tasks/windows.h"
#include "tests/rules/notices/watch.h"

using namespace riserkeep;

namespace {

constexpr PersonId kAda{0}, kNight{1}, kWorks{2};

// ada: all, at once; night: call now; works: all, what can wait in the morning.
struct Staff : Watch {
  Staff() {
    person("night", true);
    person("works").at = DayTime{};
  }
};

}  // namespace

TEST_CASE("recipients: consequence decides who is called at once") {
  CHECK(calls_now(ClassId::room_oxygen, Priority::critical));
  CHECK(calls_now(ClassId::pressure_low, Priority::high));
  CHECK(calls_now(ClassId::room_cold, Priority::high));
  CHECK_FALSE(calls_now(ClassId::room_cold, Priority::medium));
  CHECK_FALSE(calls_now(ClassId::supply_is_air, Priority::high));
  CHECK_FALSE(calls_now(ClassId::leak, Priority::medium));
  CHECK(calls_now(ClassId::leak, Priority::high));      // low air within 8 h
}

TEST_CASE("recipients: what cannot wait goes to everyone at once") {
  Staff w;
  w.bad(ClassId::pressure_low, w.dock);
  w.run(minutes(2));
  REQUIRE(w.kinds() == "alarm");
  CHECK(w.told()[0].to == std::vector{kAda, kNight, kWorks});
}

TEST_CASE("recipients: what can wait waits for the morning of whoever has one, in one bundle") {
  Staff w;
  w.bad(ClassId::pressure_high, w.dock);
  w.bad(ClassId::room_cold, RoomId{0});
  Raise chilly = Watch::raise(44.2, 45, "F");
  chilly.priority = Priority::medium;
  w.set(ClassId::room_cold, RoomId{0}, chilly);
  w.run(minutes(10));
  CHECK(w.kinds(kAda) == "alarm alarm");
  CHECK(w.kinds(kNight) == "");
  CHECK(w.kinds(kWorks) == "");
  w.good(ClassId::pressure_high, w.dock);
  w.run(hours(6));
  CHECK(w.kinds(kAda) == "alarm alarm back_to_normal");
  CHECK(w.kinds(kWorks) == "");
  w.turn(CalendarKey::morning, 2);
  REQUIRE(w.kinds(kWorks) == "digest");
  const Notice n = w.told().back();
  CHECK(n.to == std::vector{kWorks});
  CHECK(n.references.size() == 2);
  CHECK(n.long_text.find("Over after 10 min. Ref ") != std::string::npos);
  CHECK(n.long_text.find("East riser room") != std::string::npos);
  w.turn(CalendarKey::morning, 2);
  CHECK(w.kinds(kWorks) == "digest");                  // nothing new: nothing told
}

TEST_CASE("recipients: what was acknowledged before the morning says so") {
  Staff w;
  w.bad(ClassId::pressure_high, w.dock);
  w.run(minutes(10));
  w.acknowledge_all();
  w.run(hours(3));
  w.turn(CalendarKey::morning, 2);
  REQUIRE(w.kinds(kWorks) == "alarm");
  CHECK(w.told().back().short_text.find("Acknowledged by Ada. Ref ") != std::string::npos);
  CHECK(gsm_length(w.told().back().short_text) <= kShortText);
}

TEST_CASE("recipients: one message alone is not called a bundle, and mornings remind") {
  Staff w;
  w.bad(ClassId::pressure_high, w.dock);
  w.run(hours(9));
  w.turn(CalendarKey::morning, 2);
  CHECK(w.kinds(kWorks) == "alarm");
  for (int day = 0; day < 3; ++day) {
    w.run(hours(24));
    w.turn(CalendarKey::morning, 2);
  }
  CHECK(w.kinds(kWorks) == "alarm reminder reminder reminder");
  w.acknowledge_all();
  w.run(hours(24));
  w.turn(CalendarKey::morning, 2);
  CHECK(w.kinds(kWorks) == "alarm reminder reminder reminder");
}

TEST_CASE("recipients: quiet hours hold all but the critical, then bring it at once") {
  Staff w;
  w.turn(CalendarKey::quiet_hours, 0, true);
  w.bad(ClassId::pressure_low, w.dock);
  w.bad(ClassId::pressure_high, w.archive);
  w.run(minutes(5));
  CHECK(w.kinds(kAda) == "");
  CHECK(w.kinds(kNight) == "alarm");
  w.bad(ClassId::room_oxygen, RoomId{0});
  w.run(minutes(1));
  CHECK(w.kinds(kAda) == "alarm");
  w.acknowledge_all();
  w.run(hours(5));
  CHECK(w.kinds(kAda) == "alarm");
  w.turn(CalendarKey::quiet_hours, 0, false);
  CHECK(w.kinds(kAda) == "alarm digest");
  CHECK(w.told().back().references.size() == 2);
  CHECK(w.told().back().priority == Priority::high);
}

TEST_CASE("recipients: a morning inside quiet hours waits for their end") {
  Staff w;
  w.turn(CalendarKey::quiet_hours, 2, true);
  w.bad(ClassId::pressure_high, w.dock);
  w.run(minutes(5));
  w.turn(CalendarKey::morning, 2);
  CHECK(w.kinds(kWorks) == "");
  w.turn(CalendarKey::quiet_hours, 2, false);
  CHECK(w.kinds(kWorks) == "alarm");
}

TEST_CASE("recipients: those further up are told when nobody acknowledges") {
  Staff w;
  w.site.people[1].after = minutes(20);
  w.bad(ClassId::pressure_low, w.dock);
  w.run(minutes(15));
  CHECK(w.kinds(kNight) == "");
  w.run(minutes(10));
  CHECK(w.kinds(kNight) == "escalation");
  w.run(hours(3));
  CHECK(w.kinds(kNight) == "escalation");
  w.run(hours(2));
  CHECK(w.kinds(kNight) == "escalation reminder");
  w.good(ClassId::pressure_low, w.dock);
  w.run(minutes(20));
  CHECK(w.kinds(kNight) == "escalation reminder back_to_normal");

  Staff quick;
  quick.site.people[1].after = minutes(20);
  quick.bad(ClassId::pressure_low, quick.dock);
  quick.run(minutes(10));
  quick.acknowledge_all();
  quick.run(hours(2));
  CHECK(quick.kinds(kNight) == "");
}

TEST_CASE("recipients: a person with places hears of them and of what they depend on") {
  Staff w;
  w.site.people[0].places = {w.archive};
  w.bad(ClassId::near_trip, w.dock);
  w.run(minutes(1));
  CHECK(w.kinds(kAda) == "");
  CHECK(w.kinds(kNight) == "alarm");
  w.bad(ClassId::supply_failed, SupplyId{0});
  w.bad(ClassId::history_fault, PlaceId{});
  w.bad(ClassId::link_lost, LinkId{0});                // carries the archive's gauge
  w.bad(ClassId::link_lost, LinkId{1});                // carries the room's oxygen only
  w.run(minutes(2));
  CHECK(w.kinds(kAda) == "alarm alarm alarm");
}

TEST_CASE("recipients: a rise in priority is told again and clears the acknowledgement") {
  Staff w;
  Raise chilly = Watch::raise(44.2, 45, "F");
  chilly.priority = Priority::medium;
  w.set(ClassId::room_cold, RoomId{0}, chilly);
  w.run(minutes(6));
  REQUIRE(w.kinds(kAda) == "alarm");
  w.acknowledge_all();
  Raise cold = Watch::raise(39.1, 40, "F");
  cold.priority = Priority::high;
  w.set(ClassId::room_cold, RoomId{0}, cold);
  w.run(minutes(6));
  CHECK(w.kinds(kAda) == "alarm alarm");
  CHECK(w.kinds(kNight) == "alarm");
  w.run(hours(4));
  CHECK(w.kinds(kNight) == "alarm reminder");
}

TEST_CASE("recipients: beyond the flood limit there is one digest that names every alarm") {
  Watch w;
  w.systems(40);
  for (std::uint16_t i = 0; i < 40; ++i) {
    w.bad(i == 30 ? ClassId::vent_stuck_open : ClassId::pressure_high, SystemId{i});
    w.run(seconds(12));                                // one after the other: no gathering
  }
  w.run(minutes(15));
  const auto told = w.told();
  std::size_t digests = 0, named = 0;
  for (const Notice& n : told) {
    digests += n.kind == NoticeKind::digest;
    named += n.references.size();
  }
  CHECK(named == 40);                                  // nothing lost, nothing twice
  CHECK(told.size() <= 10 + digests);
  CHECK(digests >= 1);
  CHECK(digests <= 3);
  const auto worst = std::ranges::find_if(told, [](const Notice& n) { return n.kind == NoticeKind::digest && n.priority == Priority::critical; });
  REQUIRE(worst != told.end());
  CHECK(worst->short_text.find("CRITICAL system-30") != std::string::npos);   // the worst first
}

TEST_CASE("recipients: the daily cap holds what is not critical") {
  Watch w;
  w.site.messages.daily_cap = 5;
  w.systems(20);
  for (std::uint16_t i = 0; i < 12; ++i) {
    w.bad(ClassId::pressure_high, SystemId{i});
    w.run(minutes(30));
    w.acknowledge_all();
  }
  CHECK(w.told().size() == 5);
  w.bad(ClassId::near_trip, SystemId{15});
  w.run(minutes(5));
  std::size_t named = 0;
  for (const Notice& n : w.told()) named += n.references.size();
  CHECK(named == 13);                                  // the critical one brought what had been held
  CHECK(w.told().back().priority == Priority::critical);
  CHECK(w.told().size() == 6);
}

TEST_CASE("recipients: all well is said once a day, and only when it is") {
  Staff w;
  for (const ChannelId c : {w.dock_air, w.archive_air}) w.read(c, 38);
  w.turn(CalendarKey::all_well, 0);
  REQUIRE(w.kinds() == "all_well");
  CHECK(w.told()[0].to == std::vector{kAda, kWorks});
  CHECK(w.told()[0].short_text == "Quillmere Storehouse: all is well, 2 systems measured, no alarm stands.");
  w.bad(ClassId::pressure_high, w.dock);
  w.run(minutes(3));
  w.turn(CalendarKey::all_well, 0);
  CHECK(w.told().back().short_text.find("not all is well: 1 alarm stands, air not measured: Loading dock, Archive") != std::string::npos);
}

TEST_CASE("recipients: starts are told once in ten minutes, tests at once whatever the hour") {
  Staff w;
  std::string why;
  w.notices.resumed(w.view(), minutes(3), w.out);
  w.run(minutes(5));
  w.notices.resumed(w.view(), std::nullopt, w.out);
  CHECK(w.kinds(kAda) == "started");
  CHECK(w.told()[0].short_text == "Quillmere Storehouse: supervision starts again after 3 min.");
  w.run(minutes(6));
  w.notices.resumed(w.view(), std::nullopt, w.out);
  CHECK(w.kinds(kAda) == "started started");
  w.turn(CalendarKey::quiet_hours, 1, true);
  w.notices.test(w.view(), kNight, "R. Fitter", w.out, why);
  CHECK(why.empty());
  CHECK(w.kinds(kNight) == "test");
  w.notices.test(w.view(), PersonId{9}, "R. Fitter", w.out, why);
  CHECK(why == "the site file names no such person");
  w.site.messages.start_and_stop = false;
  w.run(minutes(20));
  w.notices.resumed(w.view(), std::nullopt, w.out);
  w.notices.stopping(w.view(), "", w.out);
  CHECK(w.kinds(kAda) == "started started");
}

TEST_CASE("recipients: work overrun calls its owner, chores wait for the morning") {
  Staff w;
  w.notices.tell_overrun(w.view(), w.dock, "Works", "valve overhaul lasts 2 h longer than was said", w.now - hours(4), w.out);
  CHECK(w.kinds(kWorks) == "work");
  CHECK(w.kinds(kAda) == "");
  w.notices.tell_overrun(w.view(), w.dock, "somebody else", "valve overhaul lasts 3 h longer than was said", w.now - hours(5), w.out);
  CHECK(w.kinds(kAda) == "work");
  w.notices.tell_chores(w.view(), {"gauge comparison of Loading dock, due 12 d ago", "air check of Shared analyser, due 3 d ago"}, w.now, w.out);
  CHECK(w.kinds(kAda) == "work chores");
  w.turn(CalendarKey::morning, 2);
  CHECK(w.kinds(kWorks) == "work work chores");
  CHECK(w.told().back().short_text == "Quillmere Storehouse: nobody looked: 2 chores are overdue.");
}

TEST_CASE("recipients: an alarm about messages is marked, so that it does not go the failing way alone") {
  Staff w;
  w.bad(ClassId::messages_undelivered, PlaceId{});
  w.run(minutes(1));
  REQUIRE(w.kinds() == "alarm");
  CHECK(w.told()[0].about_delivery);
}

TEST_CASE("recipients: what waits finds its person after the list has changed") {
  Staff w;
  w.bad(ClassId::pressure_high, w.dock);
  w.run(minutes(5));
  std::swap(w.site.people[0], w.site.people[2]);
  w.cut();
  w.turn(CalendarKey::morning, 0);
  REQUIRE(w.told().size() == 2);
  CHECK(w.told()[1].to == std::vector{PersonId{0}});
  w.good(ClassId::pressure_high, w.dock);
  w.run(minutes(20));
  CHECK(w.told().back().kind == NoticeKind::back_to_normal);
}

TEST_CASE("recipients: under another site file alarms keep their place by name, not by number") {
  Staff w;
  w.bad(ClassId::pressure_low, w.archive);
  w.bad(ClassId::pressure_low, w.dock);
  w.run(minutes(2));
  REQUIRE(w.kinds(kAda) == "alarm");
  // The dock is gone, the archive is the first system now.
  w.notices.moved([](PlaceId p) -> std::optional<PlaceId> {
    if (p.kind != PlaceKind::system) return p;
    return p.index == 1 ? std::optional<PlaceId>{SystemId{0}} : std::nullopt;
  });
  w.site.systems.erase(w.site.systems.begin());
  w.verdicts.clear();
  w.board = AlarmBoard{};
  w.notices.fit(w.site);
  AlarmChanged over;
  over.alarm = ClassId::pressure_low;
  over.place = SystemId{0};
  over.change = AlarmChange::cleared;
  for (const Timed& t : w.out)
    if (const auto* a = std::get_if<AlarmChanged>(&t.effect); a && a->place == PlaceId{SystemId{1}}) over.id = a->id;
  w.notices.heard(w.site, over, w.now);
  w.run(minutes(16));
  REQUIRE(w.kinds(kAda) == "alarm back_to_normal");
  CHECK(w.told().back().short_text.starts_with("Archive: over after"));
}

TEST_CASE("recipients: overruns and overdue chores are told once, then now and again") {
  Staff w;
  Chore c;
  c.kind = ChoreKind::gauge_comparison;
  c.place = w.dock;
  c.every = days(30);
  w.site.chores = {c};
  Chores chores{w.site};
  WorkWindows work;
  std::string why;
  SiteView v = w.view();
  REQUIRE(work.start(v, WorkStart{w.dock, "valve overhaul", hours(1)}, "works", w.out, why));
  const auto live = [&](Duration d) {
    for (const EngineTime end = w.now + d; w.now < end;) {
      w.now += minutes(1);
      w.now = EngineTime{std::chrono::floor<minutes>(w.now.time_since_epoch())};
      chores.tick(w.now);
      SiteView view{w.site, w.now, w.started, *w.channels, w.twins, w.vents, w.outputs, w.supplies, w.analysers, w.links, w.box, w.board, &work, &chores};
      w.notices.tick(view, w.out);
    }
  };
  live(minutes(58));
  CHECK(w.kinds() == "");
  live(minutes(5));
  REQUIRE(w.kinds(kWorks) == "work");
  CHECK(w.kinds(kAda) == "");                          // its owner is a person of the site
  CHECK(w.told()[0].short_text.find("valve overhaul by works was to end") != std::string::npos);
  live(hours(5));
  CHECK(w.kinds(kWorks) == "work work");
  REQUIRE(work.end(v, WorkEnd{w.dock, true, true, true, "nitrogen", ""}, "works", w.out, why));
  live(days(29));
  CHECK(w.kinds(kAda) == "");
  live(days(2));
  REQUIRE(w.kinds(kAda) == "chores");
  CHECK(w.told().back().short_text.find("gauge comparison of Loading dock, due") != std::string::npos);
  live(days(8));
  CHECK(w.kinds(kAda) == "chores chores");
}
