// A trip test inside a work window, through the whole engine.
#include <doctest/doctest.h>

#include "rules/alarms/statistics.h"
#include "rules/engine.h"
#include "rules/tasks/chores.h"
#include "rules/tasks/windows.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Running {
  House h;
  Engine engine;
  EngineTime now{hours(1)};
  std::uint64_t seq = 1;
  Effects out;

  explicit Running(std::vector<Chore> chores = {}) : engine((h.site.chores = std::move(chores), h.site), RuleSettings{}) {}

  void give(Input input) { engine.step({Seq{seq++}, now, std::move(input)}, out); }
  void read(ChannelId c, double value) {
    give(Reading{c, now, static_cast<std::int64_t>(value / tick_of(h.site[c].signal) + 0.5), Quality::good, Why::none});
  }
  // Two-second readings; the pressure goes to `psi` by `psi_per_s` at most.
  void run(Duration d, double psi, double psi_per_s, bool flow) {
    for (const EngineTime until = now + d; now < until;) {
      now += seconds(2);
      pressure += std::clamp(psi - pressure, -2 * psi_per_s, 2 * psi_per_s);
      read(h.dock_air, pressure);
      read(h.archive_air, 38);
      read(h.dock_flow, flow ? 1 : 0);
      read(h.dock_low, pressure < 28 ? 1 : 0);
    }
  }
  std::string say(decltype(OperatorCommand::what) what) {
    give(OperatorCommand{"Lee", std::move(what)});
    return engine.refusal();
  }
  const AlarmLifecycle* operated() const { return engine.view().alarms.find(ClassId::valve_operated, h.dock); }
  double pressure = 38;
};

}  // namespace

TEST_CASE("work: a trip test rings nobody, latches, and is released by the end that says reset") {
  Running r;
  r.run(minutes(5), 38, 1, false);
  REQUIRE(r.say(WorkStart{r.h.dock, "trip test", hours(2)}).empty());
  r.run(minutes(1), 2, 2, true);
  REQUIRE(r.operated());
  CHECK(r.operated()->state() == AlarmState::unacknowledged);
  const auto rest = r.engine.view().alarms.rests(ClassId::valve_operated, r.h.dock);
  REQUIRE(rest);
  CHECK(rest->reason == RestReason::work);
  CHECK(rest->who == "Lee");
  for (const auto& item : r.engine.view().alarms.open())
    if (item.place == PlaceId{r.h.dock}) CHECK_MESSAGE(r.engine.view().alarms.rests(item.alarm, item.place), std::string{word(item.alarm)});

  r.run(minutes(5), 40, 0.2, false);
  const WorkEnd end{r.h.dock, true, true, true, "air", ""};
  CHECK(r.say(end).find("valve-operated still stands") == 0);
  CHECK(r.engine.view().work->at(r.h.dock));
  r.run(minutes(12), 40, 0.1, false);
  REQUIRE(r.operated()->latched());
  CHECK(r.say(end).empty());
  CHECK(r.operated()->state() == AlarmState::normal);
  CHECK_FALSE(r.engine.view().work->at(r.h.dock));
  CHECK(r.engine.view().statistics->figures(r.engine.view().alarms, r.now).rested_7_d > 0);
}

TEST_CASE("work: a commissioning with the gauge and an air check count as chores done") {
  Running r{{{ChoreKind::gauge_comparison, SystemId{0}, days(30), {}}, {ChoreKind::air_check, AnalyserId{0}, days(30), {}}}};
  r.run(minutes(1), 38, 1, false);
  r.now += days(31);
  r.give(Elapsed{});
  const auto late = [&] { return r.engine.view().chores->overdue(r.h.site, r.now).size(); };
  CHECK(late() == 2);
  CHECK(r.say(HandReading{AnalyserId{0}, HandReadingKind::air_check, oxygen_percent(20.9), "cell"}).empty());
  CHECK(late() == 1);
  CHECK_FALSE(r.say(Commission{r.h.archive, true, 38.0}).empty());   // refused: no vent there, so nothing is done
  CHECK(late() == 1);
  CHECK(r.say(ChoreDone{r.h.dock, ChoreKind::gauge_comparison, 0.2, 0.2, ""}).empty());
  CHECK(late() == 0);
}
