#include "rules/tasks/windows.h"

#include <doctest/doctest.h>

#include "rules/venting/venting.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Yard {
  House h;
  WorkWindows work;
  Effects out;
  std::string why;

  SiteView view() {
    SiteView v = h.view();
    v.work = &work;
    return v;
  }
  bool start(SystemId s, Duration d, std::string who = "Lee", std::string what = "new gaskets") {
    why.clear();
    return work.start(view(), {s, std::move(what), d}, who, out, why);
  }
  bool end(WorkEnd c) {
    why.clear();
    return work.end(view(), c, "Lee", out, why);
  }
  void pass(Duration d, double psi = 38) {
    for (const EngineTime until = h.now + d; h.now < until;) {
      h.now += std::min<Duration>(seconds(30), until - h.now);
      if (psi >= 0) h.read(h.dock_air, psi);
      work.tick(view(), out);
    }
  }
  std::string last_note() const { return std::get<Note>(out.back().effect).text; }
  bool permits_work(SystemId s) {
    for (const Check& c : permit(view(), s, false).checks)
      if (c.what == "work") return c.ok;
    FAIL("no such check");
    return false;
  }
};

WorkEnd left_well(SystemId s, std::string gas) { return {s, true, true, true, std::move(gas), ""}; }

}  // namespace

TEST_CASE("work: the vent is locked while a window is open, for pulses too") {
  Yard y;
  CHECK(y.permits_work(y.h.dock));
  REQUIRE(y.start(y.h.dock, hours(4)));
  CHECK_FALSE(y.permits_work(y.h.dock));
  const auto pulse = permit_pulse(y.view(), y.h.dock, true).refusals();
  CHECK(std::ranges::any_of(pulse, [](const Refusal& r) { return r.what == "work" && r.now == "new gaskets, by Lee"; }));
  y.pass(hours(5));
  CHECK_FALSE(y.permits_work(y.h.dock));   // an overrun does not unlock it
  REQUIRE(y.end(left_well(y.h.dock, "unchanged")));
  CHECK(y.permits_work(y.h.dock));
}

TEST_CASE("work: what a start needs, and extending it") {
  Yard y;
  CHECK_FALSE(y.start(y.h.dock, Duration{}));
  CHECK_FALSE(y.start(y.h.dock, days(15)));
  CHECK_FALSE(y.start(y.h.dock, hours(1), "Lee", ""));
  REQUIRE(y.start(y.h.dock, hours(1)));
  CHECK_FALSE(y.start(y.h.dock, hours(1), "Ada"));
  CHECK(y.why.find("new gaskets, by Lee") != std::string::npos);
  y.pass(minutes(50));
  REQUIRE(y.start(y.h.dock, hours(2)));
  CHECK(y.work.open().size() == 1);
  y.pass(minutes(90));
  CHECK(y.work.overrun(y.h.now).empty());
}

TEST_CASE("work: the end wants the checklist, or why an item is missing") {
  Yard y;
  CHECK_FALSE(y.end(left_well(y.h.dock, "air")));
  CHECK(y.why == "no work is announced here");
  REQUIRE(y.start(y.h.dock, hours(1)));
  CHECK_FALSE(y.end({y.h.dock, true, false, false, "air", ""}));
  CHECK(y.why == "not said: pipe and drains free of water, water valve open; see to it and say so, or say why not");
  CHECK_FALSE(y.end(left_well(y.h.dock, "")));
  CHECK_FALSE(y.end(left_well(y.h.dock, "argon")));
  CHECK(y.end({y.h.dock, false, true, true, "unchanged", "the valve did not trip"}));
  CHECK(std::get<Note>(y.out.back().effect).text ==
        "work ended by Lee: new gaskets; gas: unchanged; not done: valve reset (the valve did not trip)");
}

TEST_CASE("work: air in the pipe, said or seen, makes the purity unknown") {
  struct Row { std::string gas; double psi; bool aired; };
  for (const Row& r : {Row{"air", 38, true}, Row{"nitrogen", 38, false}, Row{"unchanged", 38, false}, Row{"nitrogen", 0.3, true},
                       Row{"unchanged", 0.3, true}, Row{"nitrogen", -1, true}, Row{"unchanged", -1, false}}) {
    CAPTURE(r.gas);
    CAPTURE(r.psi);
    Yard y;
    REQUIRE(y.start(y.h.dock, hours(2)));
    y.pass(hours(1), r.psi);
    REQUIRE(y.end(left_well(y.h.dock, r.gas)));
    CHECK(y.work.take_aired().size() == (r.aired ? 1 : 0));
    CHECK(y.work.take_aired().empty());
  }
}

TEST_CASE("work: an overrun calls the owner, an hour later the alarms are heard again") {
  Yard y;
  REQUIRE(y.start(y.h.dock, hours(1)));
  y.pass(minutes(59));
  CHECK(y.work.overrun(y.h.now).empty());
  y.pass(minutes(1));
  REQUIRE(y.work.overrun(y.h.now).size() == 1);
  CHECK(y.work.overrun(y.h.now)[0].who == "Lee");
  CHECK(y.last_note() == "work runs over: new gaskets, by Lee");
  CHECK(y.work.quiet().size() == 1);
  y.pass(hours(1));
  CHECK(y.work.quiet().empty());
  CHECK(y.work.at(y.h.dock) != nullptr);
  const std::size_t said = y.out.size();
  y.pass(hours(1));
  CHECK(y.out.size() == said);
}

TEST_CASE("work: a recurring window acts on its systems, ends by the calendar or by itself") {
  Yard y;
  RecurringWindow r;
  r.id = "weekly-test";
  r.what = "weekly test";
  r.who = "Fire Service Co";
  r.length_minutes = 120;
  y.h.site.windows = {r};
  for (const bool told : {true, false}) {
    y.work.calendar(y.view(), 0, true, y.out);
    y.work.calendar(y.view(), 0, true, y.out);
    CHECK(y.work.open().size() == 2);
    CHECK(y.work.quiet().size() == 2);
    CHECK_FALSE(y.permits_work(y.h.dock));
    if (told) y.work.calendar(y.view(), 0, false, y.out);
    else y.pass(hours(2));
    CHECK(y.work.open().empty());
  }
  y.work.calendar(y.view(), 7, true, y.out);
  CHECK(y.work.open().empty());
}

TEST_CASE("work: a window survives a restart and runs on meanwhile") {
  Yard y;
  REQUIRE(y.start(y.h.dock, hours(1)));
  Archive saved = Archive::saving();
  saved.section(1, 1, y.work);
  y.work = WorkWindows{};
  Archive in = Archive::loading(std::move(saved).take());
  REQUIRE(in.section(1, 1, y.work));
  y.h.now += hours(3);
  y.work.tick(y.view(), y.out);
  CHECK(y.work.overrun(y.h.now).size() == 1);
  CHECK(y.work.at(y.h.dock)->what == "new gaskets");
}
