// Same inputs, same bytes: whole, cut anywhere with save and restore, and with any Elapsed inserted.
#include <doctest/doctest.h>

#include "room.h"

using namespace riserkeep;

namespace {

struct Recorded {
  Description description;
  std::vector<Stamped> inputs;
};

std::string line(const Engine& engine, const Timed& t) {
  if (const auto* o = std::get_if<OutputOrder>(&t.effect))
    return "order " + std::to_string(static_cast<std::uint64_t>(o->order)) + (o->open ? " open " : " shut ") + o->reason + "\n";
  return event_json(engine.site(), 0, engine.wall(t.at), t.at, t.effect) + "\n";
}

std::string step(Engine& engine, const Stamped& s) {
  Effects effects;
  engine.step(s, effects);
  std::string text;
  for (const Timed& t : effects) text += line(engine, t);
  return text;
}

// A day of the demo room with venting, recorded at the door of the engine.
const Recorded& recorded() {
  static const Recorded day = [] {
    Recorded r{example("demo.yaml"), {}};
    Scenario scenario = demo_scenario(r.description.site);
    Rehearsal rehearsal(r.description, scenario, EngineTime{hours(1)}, WallTime{1'793'602'800'000});
    rehearsal.record([&](const Stamped& s) { r.inputs.push_back(s); });
    commission_and_purge(rehearsal);
    rehearsal.run_for(hours(10));
    return r;
  }();
  return day;
}

std::string replay_whole() {
  Engine engine(recorded().description.site, recorded().description.rules);
  std::string all;
  for (const Stamped& s : recorded().inputs) all += step(engine, s);
  return all;
}

}  // namespace

TEST_CASE("replay: cut at 100 random points with save and restore, identical bytes") {
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  const std::string whole = replay_whole();
  CHECK(whole.size() > 1000);
  CHECK(whole == replay_whole());

  std::vector<std::size_t> cuts;
  for (int i = 0; i < 100; ++i) cuts.push_back(random() % recorded().inputs.size());
  std::sort(cuts.begin(), cuts.end());
  const Description& d = recorded().description;
  auto engine = std::make_unique<Engine>(d.site, d.rules);
  std::string all;
  std::size_t next_cut = 0;
  for (std::size_t i = 0; i < recorded().inputs.size(); ++i) {
    while (next_cut < cuts.size() && cuts[next_cut] == i) {
      ++next_cut;
      Archive out = Archive::saving();
      engine->keep(out);
      Archive in = Archive::loading(std::move(out).take());
      engine = std::make_unique<Engine>(d.site, d.rules);
      engine->keep(in);
    }
    all += step(*engine, recorded().inputs[i]);
  }
  CHECK(all == whole);
}

TEST_CASE("replay: inserting Elapsed anywhere changes no effect") {
  std::mt19937_64 random{42};
  const Description& d = recorded().description;
  Engine plain(d.site, d.rules), jittered(d.site, d.rules);
  std::string a, b;
  EngineTime last = recorded().inputs.front().at;
  for (const Stamped& s : recorded().inputs) {
    a += step(plain, s);
    if (random() % 3 == 0 && s.at > last && !std::holds_alternative<Resumed>(s.input))
      b += step(jittered, {Seq{0}, last + (s.at - last) / 2, Elapsed{}});
    b += step(jittered, s);
    last = s.at;
  }
  CHECK(a == b);
}
