// All rules together over one site: quiet cost, save and restore, parameters of one system.
#include "rules/judge/judge_all.h"

#include <doctest/doctest.h>

#include <chrono>
#include <set>

#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

struct Run : House {
  RuleSettings settings;
  Judges judges{site};
  Effects out;

  void contacts() {
    for (const ChannelId c : {dock_low, dock_flow, bypass}) read(c, 0);
    read(room_o2, 20.9);
    read(room_temp, 15);
    read(cell, 1.2);
  }
  void tick() {
    now += seconds(1);
    judges.tick(view(), settings, board, now, seconds(1), out);
  }
  void quiet(int seconds_) {
    for (int i = 0; i < seconds_; ++i) {
      if (i % 10 == 0) {
        contacts();
        read(dock_air, 38 + 0.01 * (i % 3));
        read(archive_air, 38 + 0.01 * (i % 3));
      }
      tick();
    }
  }
};

}  // namespace

TEST_CASE("judges: a healthy site says nothing") {
  Run h;
  h.quiet(3600);
  CHECK(h.out.empty());
  CHECK(h.board.open().empty());
}

TEST_CASE("judges: one low pressure is one alarm, once, and over when it is over") {
  Run h;
  h.quiet(60);
  for (int i = 0; i < 600; ++i) {
    if (i % 10 == 0) { h.contacts(); h.read(h.dock_air, 38 + 0.01 * (i % 3)); h.read(h.archive_air, 29.9 + 0.01 * (i % 3)); }
    h.tick();
  }
  REQUIRE(h.out.size() == 1);
  const auto& raised = std::get<AlarmChanged>(h.out[0].effect);
  CHECK(raised.alarm == ClassId::pressure_low);
  CHECK(raised.place == PlaceId{h.archive});
  CHECK(raised.value == doctest::Approx(29.9));
  h.quiet(120);
  REQUIRE(h.out.size() == 2);
  CHECK(std::get<AlarmChanged>(h.out[1].effect).change == AlarmChange::cleared);
}

TEST_CASE("judges: a system may have parameters of its own") {
  Run h;
  h.settings.systems[h.archive] = default_params();
  std::get<LimitRule::Params>(h.settings.systems[h.archive]).delay = minutes(10);
  h.quiet(10);
  for (int i = 0; i < 300; ++i) {
    if (i % 10 == 0) { h.contacts(); h.read(h.dock_air, 30); h.read(h.archive_air, 30); }
    h.tick();
  }
  CHECK(h.board.standing(ClassId::pressure_low, h.dock));
  CHECK_FALSE(h.board.standing(ClassId::pressure_low, h.archive));
  CHECK(h.board.pending(ClassId::pressure_low, h.archive));
}

TEST_CASE("judges: every parameter starts inside its bounds and can be set, every class has a rule") {
  std::set<ClassId> judged;
  std::set<std::string_view> names;
  const auto check = [&]<class R>(R*) {
    CAPTURE(R::info.name);
    CHECK(names.insert(R::info.name).second);
    for (const ClassId c : R::info.classes) judged.insert(c);
    std::set<std::string_view> keys;
    for (const auto& p : R::params) {
      CAPTURE(p.key);
      CHECK(keys.insert(p.key).second);
      CHECK(p.low <= p.fallback);
      CHECK(p.fallback <= p.high);
      CHECK_FALSE(p.help.empty());
      typename R::Params some{};
      p.set(some, p.high);
    }
  };
  [&]<class... R>(std::tuple<R...>*) { (check(static_cast<R*>(nullptr)), ...); }(static_cast<AllRules*>(nullptr));
  CHECK(judged.size() == kClassCount);
}

TEST_CASE("judges: saved and restored in the middle of a delay, they go on the same") {
  Run a;
  a.quiet(30);
  const auto low = [](Run& h, int n) {
    for (int i = 0; i < n; ++i) {
      if (i % 2 == 0) { h.contacts(); h.read(h.dock_air, 30.5); h.read(h.archive_air, 38 + 0.01 * (i % 3)); }
      h.tick();
    }
  };
  low(a, 40);
  Archive saved = Archive::saving();
  saved.section(1, 1, a.judges);
  saved.section(2, 1, a.board);
  Run b = a;
  b.judges = Judges{b.site};
  b.board = AlarmBoard{};
  Archive in = Archive::loading(std::move(saved).take());
  REQUIRE(in.section(1, 1, b.judges));
  REQUIRE(in.section(2, 1, b.board));
  low(a, 40);
  low(b, 40);
  REQUIRE(a.out.size() == 1);
  REQUIRE(b.out.size() == 1);
  CHECK(a.out[0].at == b.out[0].at);
  CHECK(std::get<AlarmChanged>(a.out[0].effect).id == std::get<AlarmChanged>(b.out[0].effect).id);
}

TEST_CASE("judges: a quiet tick is cheap") {
  Run h;
  for (int i = 0; i < 4; ++i) h.site.systems.push_back(h.site.systems[1]);
  h.twins.resize(6);
  h.vents.resize(6);
  h.judges = Judges{h.site};
  h.quiet(600);
  const auto view = h.view();
  constexpr int kTicks = 1'000;
  const auto before = std::chrono::steady_clock::now();
  for (int i = 0; i < kTicks; ++i) h.judges.tick(view, h.settings, h.board, h.now, seconds(1), h.out);
  const std::chrono::duration<double, std::micro> took = std::chrono::steady_clock::now() - before;
  MESSAGE("six systems: ", took.count() / kTicks, " us a tick in this build");
  CHECK(h.out.empty());
}
