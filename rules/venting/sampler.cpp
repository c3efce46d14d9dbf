#include <algorithm>

#include "rules/analyser.h"
#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr int kReadings = 3;                 // of one sample
constexpr Duration kAfterFailed = hours(1);

Duration poll_of(const Site& site, AnalyserId a) { return site[site[a].oxygen].poll; }

void begin_job(const Inside& in, AnalyserId id, SampleJob job, PlaceId place, OutputId port) {
  AnalyserState& a = in.analyser(id);
  a.job = job;
  a.sum = 0;
  a.count = 0;
  a.began = in.now();
  if (a.sampling == place && in.output(port).commanded_open) return;
  a.sampling = place;
  a.sampling_since = in.now();
  order(in, port, true, poll_of(in.site(), id), "sample of " + std::string(place_name(in.site(), place)));
}

void end_job(const Inside& in, AnalyserId id) {
  AnalyserState& a = in.analyser(id);
  a.job = SampleJob::none;
  a.sampling.reset();
  for (const OutputId port : in.site()[id].ports)
    if (in.output(port).commanded_open) order(in, port, false, poll_of(in.site(), id), "sample taken or given up");
}

bool in_use(const Inside& in, AnalyserId id, std::optional<SupplyId> supply = {}) {
  for (std::size_t i = 0; i < in.site().systems.size(); ++i) {
    const System& s = in.site().systems[i];
    if (!s.purity || s.purity->analyser != id || (supply && s.supply != *supply)) continue;
    if (in.state.vents[i].mode != Mode::watch || in.state.vents[i].ledger_unbroken) return true;
  }
  return false;
}

bool begin_air(const Inside& in, AnalyserId id) {
  const auto port = room_air_port(in.site(), id);
  const AnalyserState& a = in.analyser(id);
  if (!port || (a.air_checked && !a.air_check_failed && !air_check_wanted(in.view, id))) return false;
  begin_job(in, id, SampleJob::air, in.site()[*port].place, *port);
  return true;
}

bool begin_feed(const Inside& in, AnalyserId id) {
  for (std::size_t i = 0; i < in.site().supplies.size(); ++i) {
    const SupplyId supply{static_cast<std::uint16_t>(i)};
    const auto port = port_for(in.site(), id, supply);
    if (!port || !in_use(in, id, supply)) continue;
    const SupplyState& s = in.state.supplies[i];
    const auto& checked = in.analyser(id).air_checked;
    const bool old = !s.oxygen || in.now() - s.oxygen_at > in.site().venting.feed_sample_valid * 9 / 10;
    if (!old && !(checked && *checked > s.oxygen_at)) continue;
    begin_job(in, id, SampleJob::feed, supply, *port);
    return true;
  }
  return false;
}

bool begin_rested(const Inside& in, AnalyserId id) {
  std::optional<SystemId> next;
  for (std::size_t i = 0; i < in.site().systems.size(); ++i) {
    const SystemId s{static_cast<std::uint16_t>(i)};
    const auto& goal = in.site()[s].purity;
    if (!goal || goal->analyser != id || !sample_due(in.view, s)) continue;
    if (!next || in.site()[s].id < in.site()[*next].id) next = s;
  }
  const auto port = next ? port_for(in.site(), id, *next) : std::nullopt;
  if (!port) return false;
  begin_job(in, id, SampleJob::rested, *next, *port);
  return true;
}

void finish_air(const Inside& in, AnalyserId id, OxygenFraction mean) {
  AnalyserState& a = in.analyser(id);
  const bool good = take_air_check(a, mean, in.now());
  in.note(PlaceId{PlaceKind::analyser, id.index}, good ? "air check: " + percent_text(mean) + ", span " + fixed(a.span, 4)
                                                       : "air check failed: " + percent_text(mean) + " in air");
  if (!good) a.not_before = in.now() + kAfterFailed;
}

void finish(const Inside& in, AnalyserId id) {
  const AnalyserState a = in.analyser(id);
  const OxygenFraction mean = OxygenFraction::clamped(a.sum / a.count);
  end_job(in, id);
  if (a.job == SampleJob::air) return finish_air(in, id, mean);
  const OxygenFraction y = span_corrected(a, mean);
  if (a.job == SampleJob::feed) {
    SupplyState& s = in.state.supplies[a.sampling->index];
    s.oxygen = y;
    s.oxygen_at = in.now();
    in.note(*a.sampling, "feed sample " + percent_text(y));
  }
  if (a.job == SampleJob::rested) rested_sample(in, SystemId{a.sampling->index}, y);
}

void watch_job(const Inside& in, AnalyserId id) {
  AnalyserState& a = in.analyser(id);
  const bool alive = in.view.channels.value(in.site(), in.site()[id].oxygen, in.now()).has_value();
  if (a.job == SampleJob::venting) {
    if (!alive) end_job(in, id);
    return;
  }
  if (a.count >= kReadings) return finish(in, id);
  const bool late = in.now() - a.began > 2 * in.site()[id].flush + 20 * poll_of(in.site(), id);
  if (alive && !late) return;
  in.note(PlaceId{PlaceKind::analyser, id.index}, alive ? "sample given up: the port did not open or too few readings came" : "sample given up: analyser silent");
  end_job(in, id);
  a.not_before = in.now() + kAfterFailed;
}

void show_flowing(const Inside& in, SystemId id, EngineTime measured, OxygenFraction y) {
  PurityState& p = in.vent(id).purity;
  p.indicated = y;
  p.indicated_at = measured;
  if (p.grade == Grade::unknown) p.grade = Grade::indicated;
}

}  // namespace

bool analyser_free_for(const SiteView& view, SystemId id) {
  const auto& goal = view.site[id].purity;
  if (!goal) return false;
  const AnalyserState& a = view.analysers[goal->analyser.index];
  return a.job == SampleJob::none || (a.job == SampleJob::venting && a.sampling == PlaceId{id});
}

void sample_venting(const Inside& in, SystemId id) {
  const AnalyserId a = in.site()[id].purity->analyser;
  if (const auto port = port_for(in.site(), a, id)) return begin_job(in, a, SampleJob::venting, id, *port);
  in.analyser(a).job = SampleJob::venting;    // the vent's own gas passes the cell
  in.analyser(a).sampling = id;
  in.analyser(a).sampling_since = in.now();
}

void release_analyser(const Inside& in, SystemId id) {
  const auto& goal = in.site()[id].purity;
  if (!goal) return;
  const AnalyserState& a = in.analyser(goal->analyser);
  if (a.job == SampleJob::venting && a.sampling == PlaceId{id}) end_job(in, goal->analyser);
}

bool line_flushed(const SiteView& view, SystemId id) {
  const auto& goal = view.site[id].purity;
  if (!goal) return false;
  const auto port = port_for(view.site, goal->analyser, id);
  if (port && view.outputs[port->index].state != OutputState::open) return false;
  return attributed(view.site, view.analysers[goal->analyser.index], goal->analyser, view.now) == PlaceId{id};
}

void step_sampler(const Inside& in, AnalyserId id) {
  AnalyserState& a = in.analyser(id);
  if (in.site()[id].ports.empty()) return;
  if (a.job != SampleJob::none) return watch_job(in, id);
  if (a.not_before && in.now() < *a.not_before) return;
  if (!in_use(in, id) || in.now() - in.view.started < in.site().venting.good_inputs_first) return;
  if (!in.view.channels.value(in.site(), in.site()[id].oxygen, in.now())) return;
  if (begin_air(in, id)) return;
  if (a.air_check_failed) return;
  if (begin_feed(in, id)) return;
  begin_rested(in, id);
}

void analyser_reading(const Inside& in, AnalyserId id, EngineTime measured, OxygenFraction raw) {
  AnalyserState& a = in.analyser(id);
  for (const OutputId port : in.site()[id].ports)
    if (in.output(port).commanded_open) renew(in, port, poll_of(in.site(), id));
  const auto place = attributed(in.site(), a, id, measured);
  if (!place) return;
  const auto port = port_for(in.site(), id, *place);
  if (port && in.output(*port).state != OutputState::open) return;
  if (a.job == SampleJob::none || a.job == SampleJob::venting) {
    if (place->kind != PlaceKind::system) return;
    const SystemId s{place->index};
    const OxygenFraction y = span_corrected(a, raw);
    pieces_oxygen(in, s, measured, y);
    if (vent_may_be_open(in.vent(s)) && measured >= *in.vent(s).opened_at + sample_lag(in.site()[id])) show_flowing(in, s, measured, y);
    return;
  }
  a.sum += raw.fraction();
  ++a.count;
}

void take_oxygen(const Inside& in, const Reading& r, OxygenFraction y) {
  if (const auto a = analyser_of(in.site(), r.channel)) return analyser_reading(in, *a, r.measured, y);
  const PlaceId place = in.site()[r.channel].place;
  if (place.kind != PlaceKind::system) return;
  const SystemId id{place.index};
  pieces_oxygen(in, id, r.measured, y);
  show_flowing(in, id, r.measured, y);
}

bool port_known(const SiteView& view, SystemId id) {
  const auto& goal = view.site[id].purity;
  return goal && port_for(view.site, goal->analyser, id);
}

}  // namespace riserkeep
