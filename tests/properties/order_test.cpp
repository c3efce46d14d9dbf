// The order in the site file decides nothing, and what one system reads changes another only by what they
// share: the supply, the analyser, the room.
#include <doctest/doctest.h>

#include <algorithm>
#include <functional>
#include <map>
#include <regex>
#include <sstream>

#include "room.h"

using namespace riserkeep;

namespace {

constexpr EngineTime kStart{hours(1)};

std::string file_text(const std::string& name) {
  std::ifstream in(std::string{RISERKEEP_SOURCE_DIR} + "/config/examples/" + name);
  return {std::istreambuf_iterator<char>(in), {}};
}

Description loaded(const std::string& text) {
  Loaded l = load_site("room.yaml", text, Purpose::rehearse);
  if (!l.description) throw std::runtime_error(format_problem(l.problems.at(0)));
  return *l.description;
}

// A block per system: from its line ("  Loading dock:") to the next.
struct Cut {
  std::string head, tail;
  std::vector<std::string> systems;
};

Cut cut(const std::string& text) {
  Cut c;
  const std::size_t from = text.find('\n', text.find("\nsystems:") + 1) + 1, to = text.find("\npeople:") + 1;
  c.head = text.substr(0, from);
  c.tail = text.substr(to);
  std::istringstream lines(text.substr(from, to - from));
  for (std::string line; std::getline(lines, line);) {
    if (line.size() > 2 && line.starts_with("  ") && line[2] != ' ') c.systems.emplace_back();
    c.systems.back() += line + "\n";
  }
  return c;
}

std::string glued(const Cut& c) {
  std::string text = c.head;
  for (const std::string& s : c.systems) text += s;
  return text + c.tail;
}

// What reached the engine, without the answers of the outputs: those are given anew.
std::vector<Stamped> recorded(const Description& d, std::uint64_t seed, Duration how_long) {
  std::vector<Stamped> inputs;
  Scenario scenario = demo_scenario(d.site);
  scenario.seed = seed;
  Rehearsal r(d, scenario, kStart, WallTime{1'793'602'800'000});
  r.record([&](const Stamped& s) {
    if (!std::holds_alternative<OutputObserved>(s.input)) inputs.push_back(s);
  });
  commission_and_purge(r);
  std::mt19937_64 random{seed};
  for (const EngineTime end = r.now() + how_long; r.now() < end; r.run_for(hours(1))) {
    r.room().clear_all();
    const SystemId system{static_cast<std::uint16_t>(random() % d.site.systems.size())};
    if (random() % 3 == 0) r.room().inject({FaultKind::leak, system, 20.0});
    if (random() % 5 == 0) r.room().inject({FaultKind::gauge_dead, system, 0});
  }
  return inputs;
}

using Lines = std::vector<std::string>;

// The engine with outputs that obey at once. Gives what it answered, in the order of time, then of text.
Lines answers(const Description& d, const std::vector<Stamped>& inputs, bool order_numbers,
              const std::function<bool(const Site&, PlaceId)>& wanted) {
  Engine engine(d.site, d.rules);
  std::vector<std::pair<EngineTime, std::string>> said;
  const auto feed = [&](const auto& self, const Stamped& s) -> void {
    Effects effects;
    engine.step(s, effects);
    for (const Timed& t : effects) {
      if (const auto* o = std::get_if<OutputOrder>(&t.effect)) {
        const Output& output = engine.site()[o->output];
        if (wanted(engine.site(), output.place) && (order_numbers || !o->renewal))
          said.emplace_back(t.at, "order " + output.id + (o->open ? " open" : " shut") + (o->renewal ? " renewal" : "") +
                                      (order_numbers ? " " + std::to_string(static_cast<std::uint64_t>(o->order)) : "") + o->reason);
        if (!o->renewal)
          self(self, {Seq{}, s.at, OutputObserved{o->output, o->order, OutputOutcome::confirmed, o->open ? OutputState::open : OutputState::shut}});
      } else if (wanted(engine.site(), event_place(engine.site(), t.effect))) {
        said.emplace_back(t.at, event_json(engine.site(), 0, engine.wall(t.at), t.at, t.effect));
      }
    }
  };
  for (const Stamped& s : inputs) feed(feed, s);
  std::sort(said.begin(), said.end());
  // References and order numbers count over the whole site.
  static const std::regex counted(R"("(id|reference|order)":("[^"]*"|\d+)|\(ack [0-9A-Z]+\)|\b[0-9][A-Z][0-9]\b)");
  Lines lines;
  for (const auto& [at, text] : said) lines.push_back(order_numbers ? text : std::regex_replace(text, counted, ""));
  return lines;
}

bool anywhere(const Site&, PlaceId) { return true; }

ChannelId channel_in(const Site& from, const Site& to, ChannelId c) {
  const Channel& channel = from[c];
  const auto place = find_place(to, place_id(from, channel.place));
  const auto found = place ? find_channel(to, *place, signal_word(channel)) : std::nullopt;
  if (!found) throw std::runtime_error("no such channel in the permuted room");
  return *found;
}

SystemId system_in(const Site& from, const Site& to, SystemId s) { return *find_system(to, from[s].id); }

std::vector<Stamped> translated(const Site& from, const Site& to, std::vector<Stamped> inputs) {
  std::map<ChannelId, ChannelId> known;
  for (std::size_t i = 0; i < from.channels.size(); ++i) {
    const ChannelId c{static_cast<std::uint16_t>(i)};
    known[c] = channel_in(from, to, c);
  }
  for (Stamped& s : inputs) {
    if (auto* r = std::get_if<Reading>(&s.input)) r->channel = known.at(r->channel);
    auto* command = std::get_if<OperatorCommand>(&s.input);
    if (!command) continue;
    if (auto* c = std::get_if<Commission>(&command->what)) c->system = system_in(from, to, c->system);
    if (auto* c = std::get_if<SetMode>(&command->what)) c->system = system_in(from, to, c->system);
  }
  return inputs;
}

void same(const Lines& a, const Lines& b) {
  REQUIRE(a.size() > 50);
  CHECK(a.size() == b.size());
  for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) {
    if (a[i] == b[i]) continue;
    CAPTURE(a[i]);
    CAPTURE(b[i]);
    FAIL("they differ at line " << i << " of " << a.size());
  }
}

}  // namespace

TEST_CASE("order: the systems of the site file in any order, the same answers") {
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed);
  std::mt19937_64 random{seed};
  Cut c = cut(file_text("demo.yaml"));
  REQUIRE(c.systems.size() == 4);
  const Description base = loaded(glued(c));
  const auto inputs = recorded(base, seed, hours(8));
  const auto numbers_aside = [](const Description& d, const std::vector<Stamped>& in) { return answers(d, in, false, anywhere); };
  const Lines whole = numbers_aside(base, inputs);
  for (int i = 0; i < 3; ++i) {
    std::shuffle(c.systems.begin(), c.systems.end(), random);
    const Description other = loaded(glued(c));
    CAPTURE(other.site.systems[0].id);
    same(whole, numbers_aside(other, translated(base.site, other.site, inputs)));
  }
}

namespace {

template <class I> void shift(I& id, std::size_t by) { id.index = static_cast<std::uint16_t>(id.index + by); }
template <class I> void shift(std::optional<I>& id, std::size_t by) {
  if (id) shift(*id, by);
}

struct Sizes {
  std::size_t rooms, supplies, analysers, systems, links, channels, outputs;
  explicit Sizes(const Site& s)
      : rooms(s.rooms.size()), supplies(s.supplies.size()), analysers(s.analysers.size()), systems(s.systems.size()),
        links(s.links.size()), channels(s.channels.size()), outputs(s.outputs.size()) {}
  void move(PlaceId& p) const {
    switch (p.kind) {
      case PlaceKind::room: return shift(p, rooms);
      case PlaceKind::supply: return shift(p, supplies);
      case PlaceKind::analyser: return shift(p, analysers);
      case PlaceKind::system: return shift(p, systems);
      case PlaceKind::link: return shift(p, links);
      case PlaceKind::box: return;
    }
  }
};

void move_system(System& s, const Sizes& n) {
  shift(s.room, n.rooms);
  shift(s.supply, n.supplies);
  shift(s.pressure, n.channels);
  for (auto* c : {&s.temperature, &s.low_air, &s.waterflow, &s.fire, &s.water_pressure, &s.oxygen}) shift(*c, n.channels);
  if (s.vent) shift(s.vent->output, n.outputs);
  if (!s.purity) return;
  shift(s.purity->analyser, n.analysers);
  shift(s.purity->port, n.outputs);
}

// The same room again, as "west-...", sharing nothing with the first.
Site doubled(Site site) {
  const Site one = site;
  const Sizes n{one};
  const auto append = [](auto& list, auto item, const auto& change) {
    item.id = "west-" + item.id;
    change(item);
    list.push_back(item);
  };
  for (const Room& r : one.rooms)
    append(site.rooms, r, [&](Room& x) { for (auto* c : {&x.oxygen, &x.temperature, &x.lockout, &x.barometer}) shift(*c, n.channels); });
  for (const Supply& r : one.supplies)
    append(site.supplies, r, [&](Supply& x) {
      shift(x.room, n.rooms);
      shift(x.analyser, n.analysers);
      for (auto* c : {&x.pressure, &x.air_bypass, &x.running, &x.flow_meter, &x.oxygen_meter}) shift(*c, n.channels);
    });
  for (const Analyser& r : one.analysers)
    append(site.analysers, r, [&](Analyser& x) {
      shift(x.oxygen, n.channels);
      for (OutputId& p : x.ports) shift(p, n.outputs);
    });
  for (const System& r : one.systems) append(site.systems, r, [&](System& x) { move_system(x, n); });
  for (const Link& r : one.links) append(site.links, r, [](Link&) {});
  for (const Output& r : one.outputs)
    append(site.outputs, r, [&](Output& x) {
      n.move(x.place);
      shift(x.analyser, n.analysers);
      shift(x.link, n.links);
    });
  for (Channel c : one.channels) {
    n.move(c.place);
    shift(c.link, n.links);
    site.channels.push_back(c);
  }
  return site;
}

bool of_the_east(const Site& site, PlaceId p) { return p.kind != PlaceKind::box && !place_id(site, p).starts_with("west-"); }

// Every ten seconds a random reading of every channel of the west; now and then somebody wants a purge there.
std::vector<Stamped> with_noise(const Site& both, std::vector<Stamped> inputs, std::size_t first_channel, std::size_t first_system, std::uint64_t seed) {
  std::mt19937_64 random{seed};
  std::vector<Stamped> out;
  EngineTime next = kStart + seconds(10);
  for (const Stamped& s : inputs) {
    for (; next <= s.at; next += seconds(10)) {
      for (std::size_t i = first_channel; i < both.channels.size(); ++i) {
        const auto ticks = static_cast<std::int64_t>(random() % 50'000);
        const Quality q = random() % 10 == 0 ? Quality::bad : Quality::good;
        out.push_back({Seq{}, next, Reading{ChannelId{static_cast<std::uint16_t>(i)}, next, ticks, q, Why::none}});
      }
      if (random() % 100 != 0) continue;
      const SystemId west{static_cast<std::uint16_t>(first_system + random() % (both.systems.size() - first_system))};
      out.push_back({Seq{}, next, OperatorCommand{"R. Fitter", Commission{west, true, 30.0}}});
      out.push_back({Seq{}, next, OperatorCommand{"R. Fitter", SetMode{west, Mode::purge}}});
    }
    out.push_back(s);
  }
  return out;
}

}  // namespace

TEST_CASE("order: what others read changes a system only by the supply, the analyser and the room they share") {
  const std::uint64_t seed = random_seed();
  MESSAGE("seed " << seed);
  const Description base = example("demo.yaml");
  const auto inputs = recorded(base, seed, hours(6));
  const Lines alone = answers(base, inputs, false, of_the_east);
  Description both = base;
  both.site = doubled(base.site);
  for (std::uint64_t i = 0; i < 2; ++i)
    same(alone, answers(both, with_noise(both.site, inputs, base.site.channels.size(), base.site.systems.size(), seed + i), false, of_the_east));
}
