// Through the engine: readings in, messages out; tests, stops and mornings reach the notices.
#include "rules/engine.h"

#include <doctest/doctest.h>

#include "tests/rules/notices/watch.h"

using namespace riserkeep;

namespace {

struct Running {
  std::optional<Engine> engine;
  EngineTime now{hours(1)};
  std::uint64_t seq = 0;
  std::vector<Notice> told;

  static Site site() {
    House h;
    for (const char* id : {"night", "works"}) {
      Person p;
      p.id = id;
      p.calls_now = p.id == "night";
      h.site.people.push_back(p);
    }
    h.site.people[1].at = DayTime{};
    return h.site;
  }
  Running() { engine.emplace(site(), RuleSettings{}); }

  void feed(Input input) {
    Effects out;
    engine->step({Seq{++seq}, now, std::move(input)}, out);
    for (const Timed& t : out)
      if (const auto* n = std::get_if<Notice>(&t.effect)) told.push_back(*n);
  }
  // The dock at this pressure, everything else well.
  void live(Duration d, double psi) {
    const Site& s = engine->site();
    for (const EngineTime end = now + d; now < end;) {
      now += seconds(2);
      for (std::uint16_t i = 0; i < s.channels.size(); ++i) {
        const Channel& c = s.channels[i];
        double v = 0;
        if (c.signal == Signal::pressure) v = c.place == PlaceId{SystemId{0}} ? psi : 38;
        if (c.signal == Signal::room_oxygen) v = 20.8;
        if (c.signal == Signal::room_temperature) v = 12;
        if (c.signal == Signal::oxygen) v = 1.5;
        feed(Reading{ChannelId{i}, now, static_cast<std::int64_t>(v / tick_of(c.signal) + 0.5), Quality::good, Why::none});
      }
    }
  }
};

}  // namespace

TEST_CASE("engine: readings below the band become one message to whoever is called, and one when it is over") {
  Running r;
  r.live(minutes(2), 38);
  CHECK(r.told.empty());
  r.live(minutes(3), 30.2);
  REQUIRE(r.told.size() == 1);
  CHECK(r.told[0].kind == NoticeKind::alarm);
  CHECK(r.told[0].to == std::vector{PersonId{0}, PersonId{1}});
  // 8 psi within a step: near the trip point at this rate; that the air is low is explained by it.
  CHECK(r.told[0].short_text.starts_with("CRITICAL Loading dock: air is near the trip point 30.2 psi"));
  r.feed(OperatorCommand{"Ada", Acknowledge{r.told[0].references[0]}});
  r.live(minutes(20), 38);
  REQUIRE(r.told.size() == 2);
  CHECK(r.told[1].kind == NoticeKind::back_to_normal);
}

TEST_CASE("engine: test, morning, start and stop") {
  Running r;
  r.live(minutes(1), 38);
  r.feed(OperatorCommand{"Ada", TestNotice{PersonId{0}}});
  REQUIRE(r.told.size() == 1);
  CHECK(r.told[0].kind == NoticeKind::test);
  CHECK(r.engine->refusal().empty());
  r.feed(OperatorCommand{"Ada", TestNotice{PersonId{7}}});
  CHECK_FALSE(r.engine->refusal().empty());
  r.now += minutes(5);
  r.feed(Resumed{true});
  CHECK(r.told.size() == 1);                           // works has mornings
  r.live(seconds(4), 38);
  r.feed(CalendarTurned{CalendarKey::morning, true, 1});
  REQUIRE(r.told.size() == 2);
  CHECK(r.told[1].kind == NoticeKind::started);
  CHECK(r.told[1].short_text == "Quillmere Storehouse: supervision starts again after 5 min.");
  r.feed(Stopping{"update"});
  REQUIRE(r.told.size() == 3);
  CHECK(r.told[2].kind == NoticeKind::stopping);
  CHECK(r.told[2].short_text.find("supervision stops on purpose (update)") != std::string::npos);
}

TEST_CASE("engine: saved and restored between any two steps it tells the same") {
  Running whole, cut;
  for (int minute = 0; minute < 40; ++minute) {
    const double psi = minute % 7 < 3 ? 38 : 30.2;
    whole.live(minutes(1), psi);
    cut.live(minutes(1), psi);
    Archive saved = Archive::saving();
    cut.engine->keep(saved);
    Engine fresh{Running::site(), RuleSettings{}};
    Archive in = Archive::loading(std::move(saved).take());
    fresh.keep(in);
    cut.engine.emplace(std::move(fresh));
  }
  REQUIRE(whole.told.size() >= 2);
  REQUIRE(whole.told.size() == cut.told.size());
  for (std::size_t i = 0; i < whole.told.size(); ++i) {
    CHECK(whole.told[i].id == cut.told[i].id);
    CHECK(whole.told[i].long_text == cut.told[i].long_text);
  }
}
