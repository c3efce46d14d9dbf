// The same random verdicts with and without people shelving, taking out of service and working: the states are the
// same. Kept and restored at every transition: nothing lost, nothing repeated. No data changes no state.
#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>
#include <random>

#include "daemon/formats/event_json.h"
#include "rules/judge/judge_all.h"
#include "tests/rules/judge/house.h"

using namespace riserkeep;

namespace {

using Random = std::mt19937_64;

std::uint64_t first_seed() {
  const char* asked = std::getenv("RISERKEEP_SEED");
  return asked ? std::strtoull(asked, nullptr, 10) : 20'261'125;
}

struct Fed { AlarmPoint point; Verdict verdict; };

// Verdicts that stay a while: of every class at every place that some rule judges.
class Verdicts {
 public:
  Verdicts(const Site& site, std::uint64_t seed) : random_(seed) {
    const auto add = [&](PlaceId place) {
      for (std::size_t c = 0; c < kClassCount; ++c)
        if (judged_at(static_cast<ClassId>(c), place.kind)) points_.push_back({{static_cast<ClassId>(c), place}, CannotTell{}});
    };
    for (std::size_t i = 0; i < site.systems.size(); ++i) add(SystemId{static_cast<std::uint16_t>(i)});
    for (const PlaceId p : {PlaceId{SupplyId{0}}, PlaceId{RoomId{0}}, PlaceId{LinkId{0}}, PlaceId{}}) add(p);
  }
  const std::vector<Fed>& second() {
    for (Fed& f : points_)
      if (random_() % 90 == 0) f.verdict = any();
    return points_;
  }

 private:
  Verdict any() {
    switch (random_() % 6) {
      case 0: return CannotTell{Why::stale};
      case 1: return Hold{};
      case 2: case 3: return Clear{};
      default: break;
    }
    Raise r;
    r.value = static_cast<double>(random_() % 50);
    r.limit = 20;
    r.unit = "psi";
    if (random_() % 3 == 0) r.on_delay = Duration{};
    if (random_() % 4 == 0) r.priority = static_cast<Priority>(random_() % 4);
    return r;
  }

  Random random_;
  std::vector<Fed> points_;
};

// People at random: acknowledge (in both runs), and everything that makes alarms rest (in one).
class People {
 public:
  explicit People(std::uint64_t seed) : random_(seed) {}
  void acknowledge(const House& h, AlarmBoard& board, EngineTime now, Effects& out) {
    const auto open = board.open();
    if (open.empty() || random_() % 20 != 0) return;
    const std::size_t which = random_() % open.size();
    std::string why;
    const std::string reference = reference_of(open[which].life->id());
    if (random_() % 8 == 0 && open[which].place.kind == PlaceKind::system)
      board.release(h.site, SystemId{open[which].place.index}, "Ada", now, out, why);
    else board.acknowledge(h.site, reference, "Ada", now, out, why);
  }

 private:
  Random random_;
};

class Silencers {
 public:
  explicit Silencers(std::uint64_t seed) : random_(seed) {}
  void act(const House& h, AlarmBoard& board, EngineTime now, Effects& out) {
    static const char* const targets[] = {"leak@loading-dock", "loading-dock", "pressure-low@archive", "archive", "link-lost@riser_bus",
                                          "east-nitrogen", "valve-operated@archive", "box", "east", "room-cold@east"};
    if (random_() % 40 == 0) {
      const AlarmTarget target{targets[random_() % std::size(targets)]};
      std::string why;
      switch (random_() % 4) {
        case 0: board.shelve(h.site, {target, seconds(1 + random_() % 900), random_() % 2 == 0, "test"}, "Lee", now, out, why); break;
        case 1: board.unshelve(h.site, {target}, "Lee", now, out, why); break;
        case 2: board.service(h.site, {target, true, "test"}, "Lee", now, out, why); break;
        default: board.service(h.site, {target, false, ""}, "Lee", now, out, why); break;
      }
    }
    if (random_() % 300 == 0) {
      if (work_.empty()) work_ = {{SystemId{static_cast<std::uint16_t>(random_() % 2)}, "Lee", "gaskets", now, now + hours(1)}};
      else work_.clear();
    }
  }
  const std::vector<QuietWork>& work() const { return work_; }

 private:
  Random random_;
  std::vector<QuietWork> work_;
};

bool of_state(AlarmChange c) {
  return c == AlarmChange::raised || c == AlarmChange::cleared || c == AlarmChange::acknowledged || c == AlarmChange::released ||
         c == AlarmChange::priority_changed || c == AlarmChange::realarmed;
}

std::string told(const House& h, const Timed& t) { return event_json(h.site, 0, std::nullopt, t.at, t.effect) + "\n"; }

struct Run { std::string states, all; std::size_t changes = 0, rests = 0; };

std::string first_difference(const std::string& a, const std::string& b) {
  const auto at = static_cast<std::size_t>(std::ranges::mismatch(a, b).in1 - a.begin());
  const std::size_t line = at == 0 ? 0 : a.rfind('\n', at - 1) + 1;
  return a.substr(line, 400) + "\n--- against ---\n" + b.substr(std::min(line, b.size()), 400);
}

enum class Restart { never, at_every_change };

Run run(std::uint64_t seed, bool silenced, Restart restart, int seconds_long) {
  House h;
  Verdicts verdicts{h.site, seed};
  People people{seed + 1};
  Silencers silencers{seed + 2};
  Run r;
  for (int i = 0; i < seconds_long; ++i) {
    h.now += seconds(1);
    Effects out;
    for (const Fed& f : verdicts.second()) h.board.judge(h.site, f.point.alarm, f.point.place, f.verdict, h.now, seconds(1), out);
    people.acknowledge(h, h.board, h.now, out);
    if (silenced) silencers.act(h, h.board, h.now, out);
    h.board.rest(h.site, h.now, silencers.work(), out);
    for (const Timed& t : out) {
      const auto* a = std::get_if<AlarmChanged>(&t.effect);
      const bool state = a && of_state(a->change);
      if (state) r.states += told(h, t);
      r.all += told(h, t);
      ++(state ? r.changes : r.rests);
    }
    if (out.empty() || restart == Restart::never) continue;
    Archive saved = Archive::saving();
    saved.section(1, 1, h.board);
    h.board = AlarmBoard{};
    Archive in = Archive::loading(std::move(saved).take());
    REQUIRE(in.section(1, 1, h.board));
  }
  return r;
}

}  // namespace

TEST_CASE("P9: shelving, out of service, suppression and work change no state") {
  std::size_t changes = 0, rests = 0;
  for (std::uint64_t seed = first_seed(); seed < first_seed() + 8; ++seed) {
    INFO("seed ", seed);
    const Run plain = run(seed, false, Restart::never, 4000), quiet = run(seed, true, Restart::never, 4000);
    REQUIRE(plain.states == quiet.states);
    changes += quiet.changes;
    rests += quiet.rests - plain.rests;
  }
  MESSAGE("seeds from ", first_seed(), ": ", changes, " state changes, ", rests, " more that only concern who is told");
  CHECK(changes > 1000);
  CHECK(rests > 200);
}

TEST_CASE("P10: kept and restored after every change, nothing is lost or said twice") {
  for (std::uint64_t seed = first_seed(); seed < first_seed() + 6; ++seed) {
    INFO("seed ", seed);
    const std::string whole = run(seed, true, Restart::never, 3000).all, cut = run(seed, true, Restart::at_every_change, 3000).all;
    const bool same = whole == cut;
    CHECK_MESSAGE(same, first_difference(whole, cut));
  }
}

TEST_CASE("P11: while nothing can be told, nothing raises, clears, repeats or ends a one-shot shelving") {
  for (std::uint64_t seed = first_seed(); seed < first_seed() + 6; ++seed) {
    INFO("seed ", seed);
    House h;
    Verdicts verdicts{h.site, seed};
    Random random{seed};
    const int from = 500 + static_cast<int>(random() % 1500), to = from + 30 + static_cast<int>(random() % 1000);
    std::string why;
    Effects out;
    REQUIRE(h.board.shelve(h.site, {{"loading-dock"}, hours(20), true, ""}, "Lee", h.now, out, why));
    std::size_t outside = 0;
    for (int i = 0; i < 4000; ++i) {
      h.now += seconds(1);
      out.clear();
      for (const Fed& f : verdicts.second())
        h.board.judge(h.site, f.point.alarm, f.point.place, i >= from && i < to ? Verdict{CannotTell{}} : f.verdict, h.now, seconds(1), out);
      h.board.rest(h.site, h.now, {}, out);
      if (i >= from && i < to) REQUIRE(out.empty());
      else outside += out.size();
    }
    CHECK(outside > 100);
  }
}

TEST_CASE("P12: suppressed and unsuppressed alternate per point, raised and cleared too") {
  House h;
  Verdicts verdicts{h.site, first_seed()};
  std::map<AlarmPoint, bool> quiet, standing;
  for (int i = 0; i < 6000; ++i) {
    h.now += seconds(1);
    Effects out;
    for (const Fed& f : verdicts.second()) h.board.judge(h.site, f.point.alarm, f.point.place, f.verdict, h.now, seconds(1), out);
    h.board.rest(h.site, h.now, {}, out);
    for (const Timed& t : out) {
      const auto& a = std::get<AlarmChanged>(t.effect);
      const AlarmPoint p{a.alarm, a.place};
      if (a.change == AlarmChange::suppressed || a.change == AlarmChange::unsuppressed) {
        REQUIRE(quiet[p] == (a.change == AlarmChange::unsuppressed));
        quiet[p] = !quiet[p];
      } else if (a.change == AlarmChange::raised || a.change == AlarmChange::cleared) {
        REQUIRE(standing[p] == (a.change == AlarmChange::cleared));
        standing[p] = !standing[p];
      }
    }
  }
  CHECK(quiet.size() > 5);
}
