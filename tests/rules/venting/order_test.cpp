// The order in the site file decides nothing, and nobody who wants a turn waits for ever.
#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "small_plant.h"

using namespace riserkeep;

namespace {

using Names = std::vector<std::string>;

SystemId called(const SmallPlant& p, const std::string& name) { return *find_system(p.site, name); }

// The same pipes in another order of the lists.
SmallPlant plant_of(const Names& names) {
  SmallPlant p(static_cast<int>(names.size()));
  for (std::size_t i = 0; i < names.size(); ++i) {
    System& s = p.site.systems[i];
    s.id = s.name = names[i];
    p.site.outputs[s.vent->output.index].id = names[i] + " vent";
    p.site.outputs[s.purity->port->index].id = names[i] + " port";
    const double fill = 0.94 + 0.01 * static_cast<double>(names[i][0] - 'a');   // 36 to 39 psi
    p.pipes[i].o2 *= fill;
    p.pipes[i].n2 *= fill;
  }
  return p;
}

void start_all(SmallPlant& p, Names names) {
  p.run(minutes(12));
  std::sort(names.begin(), names.end());
  for (const std::string& n : names) {
    const std::size_t i = called(p, n).index;
    REQUIRE(p.commission(i) == "");
    REQUIRE(p.run_until([&] { return p.vent(i).commissioning.done; }, hours(4)));
  }
  for (const std::string& n : names) REQUIRE(p.purge(called(p, n).index) == "");
}

std::vector<std::string> told(const SmallPlant& p) {
  std::vector<std::pair<EngineTime, std::string>> all;
  for (const Timed& t : p.log) {
    if (const auto* o = std::get_if<OutputOrder>(&t.effect))
      all.emplace_back(t.at, p.site[o->output].id + (o->open ? " open " : " shut ") + std::to_string(static_cast<std::uint64_t>(o->order)) + o->reason);
    if (const auto* n = std::get_if<Note>(&t.effect)) all.emplace_back(t.at, std::string(place_name(p.site, n->place)) + ": " + n->text);
  }
  std::sort(all.begin(), all.end());
  std::vector<std::string> lines;
  for (const auto& [at, text] : all) lines.push_back(std::to_string(at.time_since_epoch().count()) + " " + text);
  return lines;
}

}  // namespace

TEST_CASE("systems in any order of the site file get the same orders at the same times") {
  Names names{"a", "b", "c"};
  std::vector<std::string> first;
  do {
    SmallPlant p = plant_of(names);
    start_all(p, names);
    p.run(hours(6));
    const auto lines = told(p);
    if (first.empty()) first = lines;
    REQUIRE(lines.size() > 50);
    CAPTURE(names[0] + names[1] + names[2]);
    const auto differ = std::mismatch(first.begin(), first.end(), lines.begin(), lines.end());
    CAPTURE((differ.first == first.end() ? std::string("end") : *differ.first));
    CAPTURE((differ.second == lines.end() ? std::string("end") : *differ.second));
    REQUIRE(first == lines);
  } while (std::next_permutation(names.begin(), names.end()));
}

TEST_CASE("who is refused for nothing but the turn vents within the starvation limit and the turns before it") {
  const Names names{"a", "b", "c", "d"};
  SmallPlant p = plant_of(names);
  p.site.venting.starvation = hours(2);
  start_all(p, names);
  const auto waits = [&](SystemId id) {
    const VentState& v = p.vent(id.index);
    if (v.stage != PurgeStage::venting || v.phase != VentPhase::idle || (v.earliest_next && p.now < *v.earliest_next)) return false;
    const auto refusals = permit(p.view(), id, false).refusals();
    return std::all_of(refusals.begin(), refusals.end(), [](const Refusal& r) { return r.what == "turn" || r.what == "refill"; });
  };
  std::vector<std::optional<EngineTime>> since(names.size());
  Duration longest{};
  for (const EngineTime end = p.now + hours(24); p.now < end; p.run(minutes(1)))
    for (std::size_t i = 0; i < names.size(); ++i) {
      if (!waits(SystemId{static_cast<std::uint16_t>(i)})) {
        since[i].reset();
        continue;
      }
      if (!since[i]) since[i] = p.now;
      longest = std::max(longest, p.now - *since[i]);
    }
  MESSAGE("longest wait " << in_hours(longest) << " h");
  CHECK(longest > minutes(20));   // the supply was crowded
  CHECK(longest <= p.site.venting.starvation + 3 * (p.site.venting.longest_venting + minutes(45)));
}
