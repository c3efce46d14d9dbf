#include "daemon/runtime/executor.h"

#include <doctest/doctest.h>

namespace riserkeep {
namespace {

struct ManualClock : Clock {
  EngineTime time{seconds(1000)};
  EngineTime now() const override { return time; }
};
// Remembers in one list what reached the disk and what reached the bus, in order.
struct Recorder : JournalPort, OutputPort {
  std::vector<std::string> deeds;
  std::vector<std::function<void(bool)>> barriers;
  std::vector<JournalEvent> append(const Stamped&, const Effects& effects) override {
    deeds.push_back("append");
    std::vector<JournalEvent> events;
    for (const auto& [at, effect] : effects)
      if (const auto* note = std::get_if<Note>(&effect)) events.push_back({1, at, {}, "note", "box", note->text});
    return events;
  }
  void barrier(std::function<void(bool)> done) override { barriers.push_back(std::move(done)); }
  void order(const OutputOrder& o) override {
    deeds.push_back((o.renewal ? "renew " : o.open ? "open " : "close ") + std::to_string(static_cast<int>(o.order)));
  }
  void answer_all(bool durable) {
    auto waiting = std::move(barriers);
    barriers.clear();
    for (auto& done : waiting) done(durable);
  }
};

struct Bench {
  Site site;
  ManualClock clock;
  Recorder ports;
  std::vector<std::pair<std::string, bool>> published;
  std::vector<Input> fed;
  std::optional<Executor> executor;

  Bench() {
    site.outputs.resize(2);
    site.outputs[1].kind = OutputKind::supply_valve;
    executor.emplace(site, clock, ports, ports,
                     [this](const JournalEvent& e, bool stored) { published.emplace_back(e.json, stored); },
                     [this](Input i) { fed.push_back(std::move(i)); });
  }
  OutputOrder order(int number, bool open, bool renewal = false, int output = 0) const {
    return {OutputId{static_cast<std::uint16_t>(output)}, OrderNo{static_cast<std::uint64_t>(number)}, open, renewal,
            clock.time + seconds(3), clock.time + seconds(8), "test"};
  }
  void step(Effect effect) { executor->carry_out({}, {{clock.time, std::move(effect)}}); }
  void note(std::string text) { step(Note{{}, std::move(text)}); }
};

using Deeds = std::vector<std::string>;

TEST_CASE("a close acts before it is journaled") {
  Bench b;
  b.step(b.order(1, false));
  CHECK(b.ports.deeds == Deeds{"close 1", "append"});
  CHECK(b.ports.barriers.empty());
}

TEST_CASE("an opening waits until its intent is durable") {
  Bench b;
  b.step(b.order(1, true));
  CHECK(b.ports.deeds == Deeds{"append"});
  CHECK(b.executor->opening_waits());
  b.ports.answer_all(true);
  CHECK(b.ports.deeds == Deeds{"append", "open 1"});
  CHECK(b.fed.empty());
}

TEST_CASE("without a journal nothing opens, and the engine hears of it") {
  Bench b;
  b.step(b.order(1, true));
  b.ports.answer_all(false);
  CHECK(b.ports.deeds == Deeds{"append"});
  REQUIRE(b.fed.size() == 1);
  const auto& refused = std::get<OutputObserved>(b.fed[0]);
  CHECK(refused.outcome == OutputOutcome::refused);
  CHECK(refused.order == OrderNo{1});
  CHECK(refused.state == OutputState::shut);
}

TEST_CASE("an opening whose journal entry came too late is dropped") {
  Bench b;
  b.step(b.order(1, true));
  b.clock.time += milliseconds(3001);
  b.ports.answer_all(true);
  CHECK(b.ports.deeds == Deeds{"append"});
  CHECK(b.fed.size() == 1);
}

TEST_CASE("a close while the opening waits for the disk wins for good") {
  Bench b;
  b.step(b.order(1, true));
  b.step(b.order(2, false));
  b.ports.answer_all(true);
  CHECK(b.ports.deeds == Deeds{"append", "close 2", "append"});
  CHECK(b.fed.empty());
}

TEST_CASE("an older order never follows a newer one") {
  Bench b;
  b.step(b.order(5, false));
  b.step(b.order(4, true));
  b.step(b.order(3, false));
  b.ports.answer_all(true);
  CHECK(b.ports.deeds == Deeds{"close 5", "append", "append", "append"});
}

TEST_CASE("a renewal takes no barrier and never overtakes the opening it renews") {
  Bench b;
  b.step(b.order(1, true));
  b.step(b.order(2, true, true));
  CHECK(b.ports.deeds == Deeds{"append", "append"});
  b.ports.answer_all(true);
  CHECK(b.ports.deeds.back() == "open 1");
  b.step(b.order(3, true, true));
  CHECK(b.ports.deeds == Deeds{"append", "append", "open 1", "append", "renew 3"});
  CHECK(b.ports.barriers.empty());
}

TEST_CASE("a supply valve is safe when open: opening it waits for nothing, shutting it does") {
  Bench b;
  b.step(b.order(1, true, false, 1));
  CHECK(b.ports.deeds == Deeds{"open 1", "append"});
  b.step(b.order(2, false, false, 1));
  CHECK(b.ports.deeds.back() == "append");
  b.ports.answer_all(true);
  CHECK(b.ports.deeds.back() == "close 2");
}

TEST_CASE("events go out once durable, in order, or after 2 s marked not stored") {
  Bench b;
  b.note("first");
  b.note("second");
  CHECK(b.published.empty());
  b.ports.answer_all(true);
  CHECK(b.published == std::vector<std::pair<std::string, bool>>{{"first", true}, {"second", true}});

  b.note("third");
  CHECK(b.executor->next_deadline() == b.clock.time + seconds(2));
  b.clock.time += milliseconds(1999);
  b.executor->due(b.clock.time);
  CHECK(b.published.size() == 2);
  b.clock.time += milliseconds(1);
  b.executor->due(b.clock.time);
  REQUIRE(b.published.size() == 3);
  CHECK(b.published[2] == std::pair<std::string, bool>{"third", false});
  b.ports.answer_all(true);                    // the disk wakes up: nothing is said twice
  CHECK(b.published.size() == 3);
  CHECK_FALSE(b.executor->next_deadline());
}

TEST_CASE("an event that cannot be stored holds up the next ones for 2 s, never their order") {
  Bench b;
  b.note("lost");
  b.ports.answer_all(false);
  b.clock.time += seconds(1);
  b.note("kept");
  b.ports.answer_all(true);
  CHECK(b.published.empty());
  b.clock.time += seconds(1);
  b.executor->due(b.clock.time);
  CHECK(b.published == std::vector<std::pair<std::string, bool>>{{"lost", false}, {"kept", true}});
}

TEST_CASE("an operator is answered once durable, at once when refused, after 2 s with the reason") {
  Bench b;
  std::vector<CommandAnswer> answers;
  const auto keep = [&](CommandAnswer a) { answers.push_back(std::move(a)); };
  b.executor->answer_command("Archive is latched", keep);
  REQUIRE(answers.size() == 1);
  CHECK_FALSE(answers[0].done);
  CHECK(answers[0].why_not == "Archive is latched");

  b.executor->answer_command("", keep);
  CHECK(answers.size() == 1);
  b.ports.answer_all(true);
  REQUIRE(answers.size() == 2);
  CHECK(answers[1].done);

  b.executor->answer_command("", keep);
  b.ports.answer_all(false);
  CHECK(answers.size() == 2);
  b.clock.time += seconds(2);
  b.executor->due(b.clock.time);
  REQUIRE(answers.size() == 3);
  CHECK_FALSE(answers[2].done);
  CHECK(answers[2].why_not.find("journal") != std::string::npos);
}

TEST_CASE("a late answer of the disk after the executor is gone does nothing") {
  Bench b;
  b.step(b.order(1, true));
  b.note("one");
  b.executor.reset();
  b.ports.answer_all(true);
  CHECK(b.ports.deeds == Deeds{"append", "append"});
  CHECK(b.published.empty());
}

}  // namespace
}  // namespace riserkeep
