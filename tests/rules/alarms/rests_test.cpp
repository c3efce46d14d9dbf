// Shelved, out of service, suppressed by design, quiet at work (ISA-18.2 / IEC 62682: SHLVD, OOSRV, DSUPR, from
// memory; one-shot and timed shelving as in OPC 10000-9, 5.8).
#include <doctest/doctest.h>

#include "rules/text.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Desk {
  House h;
  Effects out;
  std::string why;
  std::vector<QuietWork> work;

  Raise raise(std::optional<Priority> p = {}) {
    Raise r;
    r.value = 30;
    r.limit = 31;
    r.unit = "psi";
    r.on_delay = Duration{};
    r.priority = p;
    return r;
  }
  void second(ClassId c, PlaceId p, const Verdict& v) {
    h.now += seconds(1);
    h.board.judge(h.site, c, p, v, h.now, seconds(1), out);
    h.board.rest(h.site, h.now, work, out);
  }
  void pass(Duration d) {
    h.now += d;
    h.board.rest(h.site, h.now, work, out);
  }
  bool shelve(std::string target, Duration d, std::string reason = "", bool until_clear = false) {
    why.clear();
    return h.board.shelve(h.site, {{std::move(target)}, d, until_clear, std::move(reason)}, "Lee", h.now, out, why);
  }
  bool service(std::string target, bool gone, std::string reason = "") {
    why.clear();
    return h.board.service(h.site, {{std::move(target)}, gone, std::move(reason)}, "Lee", h.now, out, why);
  }
  std::optional<RestReason> rests(ClassId c, PlaceId p) const {
    const auto r = h.board.rests(c, p);
    return r ? std::optional{r->reason} : std::nullopt;
  }
  std::vector<AlarmChange> changes(ClassId c) const {
    std::vector<AlarmChange> list;
    for (const Timed& t : out)
      if (const auto* a = std::get_if<AlarmChanged>(&t.effect); a && a->alarm == c) list.push_back(a->change);
    return list;
  }
  const AlarmChanged& last() const { return std::get<AlarmChanged>(out.back().effect); }
};

}  // namespace

TEST_CASE("rests: a timed shelving ends by elapsed time and says so while the alarm stands") {
  Desk d;
  d.second(ClassId::leak, d.h.dock, d.raise());
  REQUIRE(d.shelve("leak@loading-dock", hours(8), "parts ordered"));
  CHECK(d.last().change == AlarmChange::shelved);
  CHECK(d.last().who == "Lee");
  CHECK(d.last().why == "parts ordered");
  CHECK(*d.last().until - d.h.now == hours(8));
  CHECK(d.last().text == "Loading dock: leaks, shelved for 8 h by Lee: parts ordered");
  CHECK(d.rests(ClassId::leak, d.h.dock) == RestReason::shelved);
  CHECK_FALSE(d.rests(ClassId::leak, d.h.archive));
  d.pass(hours(8) - seconds(1));
  CHECK(d.rests(ClassId::leak, d.h.dock) == RestReason::shelved);
  d.pass(seconds(1));
  CHECK_FALSE(d.rests(ClassId::leak, d.h.dock));
  CHECK(d.last().change == AlarmChange::unshelved);
  CHECK(d.last().state == AlarmState::unacknowledged);
  CHECK(d.last().why == "its time is over");
}

TEST_CASE("rests: shelve, clear, raise again: timed stays, one-shot ends") {
  for (const bool one_shot : {false, true}) {
    Desk d;
    CAPTURE(one_shot);
    REQUIRE(d.shelve("pressure-high@archive", hours(4), "", one_shot));   // not standing yet
    CHECK(d.last().reference.empty());
    d.second(ClassId::pressure_high, d.h.archive, d.raise());
    CHECK(d.rests(ClassId::pressure_high, d.h.archive) == RestReason::shelved);
    for (int i = 0; i < 60; ++i) d.second(ClassId::pressure_high, d.h.archive, Clear{});
    CHECK(d.rests(ClassId::pressure_high, d.h.archive).has_value() == !one_shot);
    d.second(ClassId::pressure_high, d.h.archive, d.raise());
    CHECK(d.rests(ClassId::pressure_high, d.h.archive).has_value() == !one_shot);
  }
}

TEST_CASE("rests: no data does not end a one-shot shelving") {
  Desk d;
  d.second(ClassId::pressure_high, d.h.archive, d.raise());
  REQUIRE(d.shelve("pressure-high@archive", Duration{}, "", true));
  for (int i = 0; i < 600; ++i) d.second(ClassId::pressure_high, d.h.archive, CannotTell{});
  CHECK(d.rests(ClassId::pressure_high, d.h.archive) == RestReason::shelved);
}

TEST_CASE("rests: limits of shelving, in words") {
  Desk d;
  CHECK_FALSE(d.shelve("leak@loading-dock", hours(25)));
  CHECK(d.why == "longer than 24 h needs a reason");
  CHECK(d.shelve("leak@loading-dock", hours(24)));
  CHECK(d.shelve("leak@loading-dock", days(30), "until the dry season"));
  CHECK_FALSE(d.shelve("leak@loading-dock", days(30) + seconds(1), "longer"));
  CHECK_FALSE(d.shelve("leak@loading-dock", Duration{}));
  CHECK_FALSE(d.shelve("valve-operated@loading-dock", hours(1), "test"));
  CHECK(d.why.find("safety alarm") != std::string::npos);
  CHECK_FALSE(d.shelve("leek@loading-dock", hours(1)));
  CHECK(d.why.find("there are: valve-operated, rapid-loss") != std::string::npos);
  CHECK_FALSE(d.shelve("room-oxygen@loading-dock", hours(1)));
  CHECK_FALSE(d.shelve("nowhere", hours(1)));
  CHECK(d.why.find("places: loading-dock, archive") != std::string::npos);
}

TEST_CASE("rests: a whole place is shelved but for its safety alarms") {
  Desk d;
  d.second(ClassId::near_trip, d.h.dock, d.raise());
  d.second(ClassId::leak, d.h.dock, d.raise());
  REQUIRE(d.shelve("Loading dock", hours(1)));
  CHECK(d.rests(ClassId::leak, d.h.dock) == RestReason::shelved);
  CHECK_FALSE(d.rests(ClassId::near_trip, d.h.dock));
  CHECK(d.changes(ClassId::near_trip) == std::vector{AlarmChange::raised});
  std::string why;
  CHECK_FALSE(d.h.board.unshelve(d.h.site, {{"leak@loading-dock"}}, "Ada", d.h.now, d.out, why));
  CHECK(why == "leak@loading-dock is not shelved as such; shelved: loading-dock");
  CHECK(d.h.board.unshelve(d.h.site, {{"loading-dock"}}, "Ada", d.h.now, d.out, why));
  CHECK_FALSE(d.rests(ClassId::leak, d.h.dock));
}

TEST_CASE("rests: a rise in priority ends the shelving") {
  Desk d;
  d.second(ClassId::link_lost, LinkId{0}, d.raise());
  REQUIRE(d.shelve("link-lost@riser_bus", hours(8)));
  for (int i = 0; i < 31; ++i) d.second(ClassId::link_lost, LinkId{0}, d.raise(Priority::high));
  CHECK(d.changes(ClassId::link_lost) == std::vector{AlarmChange::raised, AlarmChange::shelved, AlarmChange::priority_changed, AlarmChange::unshelved});
  CHECK_FALSE(d.rests(ClassId::link_lost, LinkId{0}));
}

TEST_CASE("rests: out of service wants a reason, has no end, and explains nothing") {
  Desk d;
  CHECK_FALSE(d.service("valve-operated@loading-dock", true));
  CHECK(d.service("valve-operated@loading-dock", true, "contact bypassed"));
  d.second(ClassId::valve_operated, d.h.dock, d.raise());
  d.second(ClassId::pressure_low, d.h.dock, d.raise());
  CHECK(d.rests(ClassId::valve_operated, d.h.dock) == RestReason::out_of_service);
  CHECK_FALSE(d.rests(ClassId::pressure_low, d.h.dock));
  d.pass(days(100));
  CHECK(d.rests(ClassId::valve_operated, d.h.dock) == RestReason::out_of_service);
  CHECK(d.service("valve-operated@loading-dock", false));
  CHECK_FALSE(d.rests(ClassId::valve_operated, d.h.dock));
  d.pass(seconds(1));
  CHECK(d.rests(ClassId::pressure_low, d.h.dock) == RestReason::suppressed);
  CHECK_FALSE(d.service("loading-dock", false));
}

TEST_CASE("rests: suppressed while explained, told again after") {
  Desk d;
  d.second(ClassId::link_lost, LinkId{0}, d.raise());
  d.second(ClassId::instrument_fault, d.h.dock, d.raise());
  REQUIRE(d.rests(ClassId::instrument_fault, d.h.dock) == RestReason::suppressed);
  CHECK(d.last().change == AlarmChange::suppressed);
  CHECK(d.last().why.find("explained by link-lost@riser_bus, ") == 0);
  for (int i = 0; i < 30; ++i) d.second(ClassId::link_lost, LinkId{0}, Clear{});
  CHECK(d.last().change == AlarmChange::unsuppressed);
  CHECK(d.last().state == AlarmState::unacknowledged);
  CHECK_FALSE(d.rests(ClassId::instrument_fault, d.h.dock));
}

TEST_CASE("rests: what is less urgent explains nothing") {
  Desk d;
  d.second(ClassId::room_cold, RoomId{0}, d.raise());          // high
  d.second(ClassId::link_lost, LinkId{0}, d.raise());          // medium
  CHECK_FALSE(d.rests(ClassId::room_cold, RoomId{0}));
  for (int i = 0; i < 31; ++i) d.second(ClassId::link_lost, LinkId{0}, d.raise(Priority::high));
  CHECK(d.rests(ClassId::room_cold, RoomId{0}) == RestReason::suppressed);
}

TEST_CASE("rests: what latched and is over explains no safety alarm") {
  Desk d;
  d.second(ClassId::valve_operated, d.h.dock, d.raise());
  d.second(ClassId::near_trip, d.h.dock, d.raise());
  d.second(ClassId::pressure_low, d.h.dock, d.raise());
  CHECK(d.rests(ClassId::near_trip, d.h.dock) == RestReason::suppressed);
  for (int i = 0; i < 60; ++i) d.second(ClassId::valve_operated, d.h.dock, Clear{});
  REQUIRE(d.h.board.find(ClassId::valve_operated, d.h.dock)->latched());
  CHECK_FALSE(d.rests(ClassId::near_trip, d.h.dock));
  CHECK(d.rests(ClassId::pressure_low, d.h.dock) == RestReason::suppressed);
}

TEST_CASE("rests: at work the expected is recorded and quiet, the rest is heard") {
  Desk d;
  d.work = {{d.h.dock, "Lee", "new gaskets", d.h.now, d.h.now + hours(4)}};
  d.second(ClassId::valve_operated, d.h.dock, d.raise());
  d.second(ClassId::near_trip, d.h.archive, d.raise());
  d.second(ClassId::room_oxygen, RoomId{0}, d.raise());
  d.second(ClassId::vent_stuck_open, d.h.dock, d.raise());
  CHECK(d.rests(ClassId::valve_operated, d.h.dock) == RestReason::work);
  CHECK(d.changes(ClassId::valve_operated) == std::vector{AlarmChange::raised, AlarmChange::suppressed});
  CHECK_FALSE(d.rests(ClassId::near_trip, d.h.archive));
  CHECK_FALSE(d.rests(ClassId::room_oxygen, RoomId{0}));
  CHECK_FALSE(d.rests(ClassId::vent_stuck_open, d.h.dock));
  for (int i = 0; i < 60; ++i) d.second(ClassId::valve_operated, d.h.dock, Clear{});
  CHECK(d.h.board.find(ClassId::valve_operated, d.h.dock)->state() == AlarmState::latched_unacknowledged);
  d.work.clear();
  d.pass(seconds(1));
  CHECK(d.last().change == AlarmChange::unsuppressed);
  CHECK(d.last().state == AlarmState::latched_unacknowledged);
}

TEST_CASE("rests: all of it survives a restart") {
  Desk d;
  d.second(ClassId::leak, d.h.dock, d.raise());
  d.second(ClassId::link_lost, LinkId{0}, d.raise());
  d.second(ClassId::instrument_fault, d.h.dock, d.raise());
  REQUIRE(d.shelve("leak@loading-dock", hours(8), "parts"));
  REQUIRE(d.service("archive", true, "drained"));
  Archive saved = Archive::saving();
  saved.section(1, 1, d.h.board);
  d.h.board = AlarmBoard{};
  Archive in = Archive::loading(std::move(saved).take());
  REQUIRE(in.section(1, 1, d.h.board));
  CHECK(d.h.board.rests(ClassId::leak, d.h.dock)->why == "parts");
  CHECK(d.rests(ClassId::near_trip, d.h.archive) == RestReason::out_of_service);
  CHECK(d.rests(ClassId::instrument_fault, d.h.dock) == RestReason::suppressed);
  const std::size_t said = d.out.size();
  d.pass(seconds(1));
  CHECK(d.out.size() == said);
  d.pass(hours(8));
  CHECK(d.last().change == AlarmChange::unshelved);
}
