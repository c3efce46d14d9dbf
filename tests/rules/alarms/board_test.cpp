#include "rules/alarms/board.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "rules/text.h"

using namespace riserkeep;

namespace {

Site small_site() {
  Site site;
  Room room;
  room.id = "east";
  room.name = "East riser room";
  site.rooms = {room};
  Supply supply;
  supply.id = supply.name = "nitrogen";
  site.supplies = {supply};
  site.links = {{"riser_bus", false}};
  for (const char* name : {"Loading dock", "Archive"}) {
    System s;
    s.id = s.name = name;
    site.systems.push_back(s);
  }
  Channel c;
  c.place = SystemId{0};
  c.link = LinkId{0};
  site.channels = {c};
  return site;
}

Raise raise() {
  Raise r;
  r.value = 13.6;
  r.limit = 16;
  r.unit = "psi";
  return r;
}

const AlarmChanged& last(const Effects& out) { return std::get<AlarmChanged>(out.back().effect); }

}  // namespace

TEST_CASE("board: raise, acknowledge by reference, clear") {
  const Site site = small_site();
  AlarmBoard board;
  Effects out;
  std::string why;
  EngineTime now{hours(1)};
  const PlaceId archive = SystemId{1};
  for (int i = 0; i <= 60; ++i, now += seconds(1)) board.judge(site, ClassId::pressure_low, archive, raise(), now, seconds(1), out);
  REQUIRE(out.size() == 1);
  const AlarmChanged raised = last(out);
  CHECK(raised.change == AlarmChange::raised);
  CHECK(raised.since == EngineTime{hours(1)});
  CHECK(raised.category == Category::supervisory);
  CHECK(raised.value == 13.6);
  CHECK(raised.text == "HIGH Archive: air is low 13.6 psi, limit 16.0, for 60 s. Check feed and drains. Ref " + raised.reference);
  CHECK(board.standing(ClassId::pressure_low, archive));
  CHECK_FALSE(board.standing(ClassId::pressure_low, SystemId{0}));

  CHECK_FALSE(board.acknowledge(site, "ZZZ9", "Ada", now, out, why));
  CHECK(why.find("ZZZ9") != std::string::npos);
  std::string lower = raised.reference;
  std::ranges::transform(lower, lower.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; });
  CHECK(board.acknowledge(site, lower, "Ada", now, out, why));
  CHECK(last(out).change == AlarmChange::acknowledged);
  CHECK(last(out).who == "Ada");
  CHECK_FALSE(board.acknowledge(site, raised.reference, "Bo", now, out, why));
  CHECK(why == raised.reference + " is acknowledged already, by Ada");

  for (int i = 0; i < 60; ++i, now += seconds(1)) board.judge(site, ClassId::pressure_low, archive, Clear{}, now, seconds(1), out);
  CHECK(last(out).change == AlarmChange::cleared);
  CHECK(last(out).state == AlarmState::normal);
  CHECK(board.open().empty());
}

TEST_CASE("board: valve-operated stays until a named person releases it") {
  const Site site = small_site();
  AlarmBoard board;
  Effects out;
  std::string why;
  EngineTime now{};
  const SystemId dock{0};
  CHECK_FALSE(board.release(site, dock, "Ada", now, out, why));
  CHECK(why == "Loading dock: nothing is latched here");
  board.judge(site, ClassId::valve_operated, dock, raise(), now, seconds(1), out);
  CHECK(board.any_critical(site, dock));
  CHECK_FALSE(board.release(site, dock, "Ada", now, out, why));
  CHECK(why == "Loading dock: its condition still stands; release it once the cause is gone");
  for (int i = 0; i < 60; ++i) board.judge(site, ClassId::valve_operated, dock, Clear{}, now += seconds(1), seconds(1), out);
  CHECK(last(out).state == AlarmState::latched_unacknowledged);
  CHECK(board.standing(ClassId::valve_operated, dock));
  CHECK(board.any_critical(site, dock));

  Archive saved = Archive::saving();
  saved.section(1, 1, board);
  AlarmBoard again;
  Archive in = Archive::loading(std::move(saved).take());
  REQUIRE(in.section(1, 1, again));
  CHECK(again.any_critical(site, dock));
  CHECK(again.release(site, dock, "Ada", now, out, why));
  CHECK(last(out).change == AlarmChange::released);
  CHECK(last(out).who == "Ada");
  CHECK_FALSE(again.any_critical(site, dock));
  CHECK(again.open().empty());
}

TEST_CASE("board: the most urgent first, those that are over last") {
  const Site site = small_site();
  AlarmBoard board;
  Effects out;
  const EngineTime now{};
  board.judge(site, ClassId::history_fault, PlaceId{}, raise(), now, seconds(1), out);
  board.judge(site, ClassId::vent_stuck_open, SystemId{0}, raise(), now, seconds(1), out);
  board.judge(site, ClassId::near_trip, SystemId{1}, raise(), now, seconds(1), out);
  board.judge(site, ClassId::vent_stuck_open, SystemId{0}, Clear{}, now, seconds(1), out);
  const auto open = board.open();
  REQUIRE(open.size() == 3);
  CHECK(open[0].alarm == ClassId::near_trip);
  CHECK(open[1].alarm == ClassId::history_fault);
  CHECK(open[2].alarm == ClassId::vent_stuck_open);
}

TEST_CASE("board: what a place depends on explains it, states go on") {
  const Site site = small_site();
  AlarmBoard board;
  Effects out;
  CHECK_FALSE(board.explained_by(site, ClassId::instrument_fault, SystemId{0}));
  Raise lost = raise();
  lost.on_delay = Duration{};
  board.judge(site, ClassId::link_lost, LinkId{0}, lost, EngineTime{}, seconds(1), out);
  CHECK(board.explained_by(site, ClassId::instrument_fault, SystemId{0})->alarm == ClassId::link_lost);
  CHECK_FALSE(board.explained_by(site, ClassId::instrument_fault, SystemId{1}));
  board.judge(site, ClassId::instrument_fault, SystemId{0}, raise(), EngineTime{}, seconds(1), out);
  CHECK(board.standing(ClassId::instrument_fault, SystemId{0}));
}

TEST_CASE("board: a place the site no longer has is dropped, occurrences count on") {
  Site site = small_site();
  AlarmBoard board;
  Effects out;
  board.judge(site, ClassId::near_trip, SystemId{1}, raise(), EngineTime{}, seconds(1), out);
  const OccurrenceId first = last(out).id;
  const SiteIds before = names_of(site);
  site.systems.pop_back();
  board.rearrange(Renumbering{before, names_of(site)});
  CHECK(board.open().empty());
  board.judge(site, ClassId::near_trip, SystemId{0}, raise(), EngineTime{}, seconds(1), out);
  CHECK(last(out).id > first);
}
