// A small closed loop around Venting: one well-mixed pipe per system, orifice, feed with hysteresis,
// analyser with a line that flushes. Its own equations, not those of rules/gas.
#pragma once

#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "rules/alarms/board.h"
#include "rules/venting/explain.h"
#include "rules/venting/venting.h"

namespace riserkeep {

struct SmallPipe {
  double n2 = 0, o2 = 0;             // mol
  bool feeding = false;
  double leak_per_s = 2e-8, coil = 0, blocked = 1, stuck = 0;
  double total() const { return n2 + o2; }
  double oxygen() const { return o2 / total(); }
};

struct SmallPlant {
  static constexpr double kR = 8.314, kT = 293.15, kOut = 101325.0, kVolume = 0.5, kK = 2.5e-4;
  static constexpr double kFeedO2 = 0.005, kFeed = 0.045;   // mol/s

  Site site;
  std::vector<SmallPipe> pipes;
  EngineTime now{seconds(1000)}, started{seconds(1000)};
  ChannelTable channels{0};
  std::vector<Twin> twins;
  std::vector<LinkState> links;
  std::array<BoxState, 4> box;
  AlarmBoard alarms;
  Venting venting;
  Effects log;
  double cell = 0.2095;
  bool pressure_bad = false, analyser_dead = false, vents_crossed = false;   // crossed: each vent opens the other pipe
  double lowest_open_psi = 1000;

  explicit SmallPlant(int systems = 1) : site(make(systems)), venting(site) {
    channels = ChannelTable(site.channels.size());
    twins.resize(site.systems.size());
    for (int i = 0; i < systems; ++i) {
      SmallPipe p;
      const double n = (kOut + 40 * kPascalPerPsi) * kVolume / (kR * kT);
      p.o2 = 0.2095 * n;
      p.n2 = n - p.o2;
      pipes.push_back(p);
    }
  }

  static Site make(int systems) {
    Site s;
    s.rooms.push_back({});
    s.rooms[0].id = "room";
    Supply supply;
    supply.id = "feed";
    s.supplies.push_back(supply);
    Analyser a;
    a.id = "cell";
    a.flush = minutes(3);
    a.line_delay = seconds(30);
    const auto channel = [&](PlaceId place, Signal signal, Duration poll) {
      Channel c;
      c.place = place;
      c.signal = signal;
      c.poll = poll;
      s.channels.push_back(c);
      return ChannelId{static_cast<std::uint16_t>(s.channels.size() - 1)};
    };
    const auto output = [&](PlaceId place, OutputKind kind) {
      Output o;
      o.id = "out" + std::to_string(s.outputs.size());
      o.place = place;
      o.kind = kind;
      if (kind == OutputKind::sample_port) o.analyser = AnalyserId{0};
      s.outputs.push_back(o);
      return OutputId{static_cast<std::uint16_t>(s.outputs.size() - 1)};
    };
    a.oxygen = channel(PlaceId{PlaceKind::analyser, 0}, Signal::oxygen, seconds(10));
    for (int i = 0; i < systems; ++i) {
      const SystemId id{static_cast<std::uint16_t>(i)};
      System y;
      y.id = y.name = "pipe" + std::to_string(i);
      y.valve = {ValveKind::differential, 5.5, psi(100), {}, psig(20), false};
      y.air = {psig(35), psig(40), false};
      y.pressure = channel(id, Signal::pressure, seconds(2));
      y.vent = Vent{output(id, OutputKind::vent), millimetres(1), 0.85, Tap::far_end, {}};
      a.ports.push_back(output(id, OutputKind::sample_port));
      y.purity = PurityGoal{oxygen_percent(2), AnalyserId{0}, a.ports.back(), {}, {}};
      s.systems.push_back(y);
    }
    a.ports.push_back(output(SupplyId{0}, OutputKind::sample_port));
    a.ports.push_back(output(RoomId{0}, OutputKind::sample_port));
    s.analysers.push_back(a);
    return s;
  }

  double psi_of(std::size_t i) const { return (pipes[i].total() * kR * kT / kVolume - kOut) / kPascalPerPsi; }
  SiteView view() const {
    const VentingState& v = venting.state();
    return {site, now, started, channels, twins, v.vents, v.outputs, v.supplies, v.analysers, links, box, alarms};
  }
  const VentState& vent(std::size_t i = 0) const { return venting.state().vents[i]; }
  bool commanded(OutputId o) const { return venting.state().outputs[o.index].commanded_open; }

  void answer(Effects& out) {
    std::vector<OutputObserved> seen;
    for (const Timed& t : out)
      if (const auto* o = std::get_if<OutputOrder>(&t.effect); o && !o->renewal)
        seen.push_back({o->output, o->order, OutputOutcome::confirmed, o->open ? OutputState::open : OutputState::shut});
    log.insert(log.end(), out.begin(), out.end());
    for (const auto& o : seen) {
      Effects more;
      venting.output_observed(view(), twins, o, more);
      log.insert(log.end(), more.begin(), more.end());
    }
  }
  void read(ChannelId c, double value, int decimals_scale, Quality q = Quality::good) {
    const Reading r{c, now, static_cast<std::int64_t>(std::lround(value * decimals_scale)), q, Why::none};
    channels.take(r);
    const PlaceId place = site[c].place;
    if (place.kind == PlaceKind::system) twins[place.index].reading(site, SystemId{place.index}, channels, r);
    Effects out;
    venting.reading(view(), twins, r, out);
    answer(out);
  }
  void flow(std::size_t i) {
    SmallPipe& p = pipes[i];
    const double open = std::max(p.stuck, (commanded(site.systems[vents_crossed ? pipes.size() - 1 - i : i].vent->output) ? 1.0 : 0.0) * p.blocked);
    const double lost = 1 - std::exp(-(kK * open + p.leak_per_s));
    p.n2 -= p.n2 * lost;
    p.o2 -= p.o2 * lost;
    if (psi_of(i) < 35) p.feeding = true;
    if (psi_of(i) > 40) p.feeding = false;
    if (p.feeding) {
      p.n2 += kFeed * (1 - kFeedO2);
      p.o2 += kFeed * kFeedO2;
    }
    if (open > 0) lowest_open_psi = std::min(lowest_open_psi, psi_of(i));
  }
  double drawn() const {
    for (const OutputId port : site.analysers[0].ports) {
      if (!commanded(port)) continue;
      const PlaceId p = site[port].place;
      return p.kind == PlaceKind::system ? pipes[p.index].oxygen() : p.kind == PlaceKind::supply ? kFeedO2 : 0.2095;
    }
    return cell;
  }
  void second() {
    now += seconds(1);
    for (std::size_t i = 0; i < pipes.size(); ++i) flow(i);
    cell += (drawn() - cell) / 15.0;
    const auto t = now.time_since_epoch();
    if (t % seconds(2) == Duration{})
      for (std::size_t i = 0; i < pipes.size(); ++i)
        read(site.systems[i].pressure, psi_of(i), 1000, pressure_bad ? Quality::bad : Quality::good);
    if (t % seconds(10) == Duration{} && !analyser_dead) read(site.analysers[0].oxygen, 100 * cell, 1000);
    Effects out;
    venting.tick(view(), twins, out);
    answer(out);
  }
  void run(Duration d) {
    for (const EngineTime until = now + d; now < until;) second();
  }
  template <class F> bool run_until(F f, Duration most) {
    for (const EngineTime until = now + most; now < until && !f();) second();
    return f();
  }
  std::string commission(std::size_t i = 0) {
    Effects out;
    std::string why;
    venting.commission(view(), {SystemId{static_cast<std::uint16_t>(i)}, true, psi_of(i)}, "A. Fitter", out, why);
    answer(out);
    return why;
  }
  std::string purge(std::size_t i = 0) {
    Effects out;
    std::string why;
    venting.set_mode(view(), SystemId{static_cast<std::uint16_t>(i)}, Mode::purge, "A. Fitter", out, why);
    answer(out);
    return why;
  }
};

}  // namespace riserkeep
