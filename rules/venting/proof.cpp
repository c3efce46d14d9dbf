#include <algorithm>

#include "rules/analyser.h"
#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr double kBetter = 0.002;            // a sample must beat the target by this
constexpr double kBound = 0.010;             // ledger's upper bound over the target
constexpr double kPocket = 0.005;            // ledger's lower bound over the sample
constexpr double kRise = 0.003;              // between the two rested samples
constexpr double kExcess = 0.004;            // a purge goes on to this much under the target
constexpr double kNothing = 0.0015;          // a venting that brings less is exhausted
constexpr double kMixedEnough = 0.01;
constexpr double kPoorYield = 0.3, kGoodYield = 0.6;
constexpr double kContentsForUnknownStart = 3;
constexpr int kExhausted = 3;
constexpr double kLow = 0.002, kAgain = 0.010;

void enter(const Inside& in, SystemId id, PurgeStage stage) {
  in.vent(id).stage = stage;
  in.vent(id).stage_since = in.now();
}

bool far_end(const Inside& in, SystemId id) { return in.site()[id].vent && in.site()[id].vent->tap == Tap::far_end; }

// With an unknown start the bound cannot come down; enough gas through the far end stands in for it.
bool bound_allows(const Inside& in, SystemId id, double target) {
  const OxygenLedger& l = in.vent(id).ledger;
  if (l.start_unknown() && far_end(in, id)) return l.contents_vented() >= kContentsForUnknownStart;
  return l.upper() <= target + kBound;
}

void adapt_dwell(const Inside& in, SystemId id, double y, double xs) {
  VentState& v = in.vent(id);
  const VentingParams& p = in.site().venting;
  const double x = v.ledger.mean();
  if (far_end(in, id)) return void(v.earliest_next.reset());
  if (x - xs > kMixedEnough) {
    const double yield = (y - xs) / (x - xs);
    if (yield < kPoorYield) v.dwell = std::min(2 * v.dwell, p.dwell_longest);
    if (yield > kGoodYield) v.dwell = std::max(v.dwell / 2, p.dwell_shortest);
  }
  const auto ended = last_refill_ended(in.view, id);
  v.earliest_next = std::max(ended.value_or(in.now()), *v.last_venting_ended) + v.dwell;
}

void stall(const Inside& in, SystemId id, double y, double xs) {
  VentState& v = in.vent(id);
  enter(in, id, PurgeStage::stalled);
  v.findings.stalled = in.now();
  const double x = v.ledger.mean();
  const bool shorted = !far_end(in, id) && x - y > kPocket;
  const auto target = target_of(in.view, id);
  std::string cause = "slow: more than " + fixed(in.site().venting.contents_before_stall, 0) + " contents vented";
  if (target && xs > target->fraction() - 0.003) cause = "the supply is not pure enough";
  else if (shorted) cause = "the vent reads nitrogen that cannot be the whole pipe: short circuit at the riser, a leak or slow mixing";
  v.findings.stall_why = cause + "; take a hand reading at the far end";
  in.note(id, "purge stalled: " + v.findings.stall_why);
}

void exhausted(const Inside& in, SystemId id, double y, double xs) {
  VentState& v = in.vent(id);
  const VentingParams& p = in.site().venting;
  if (v.ledger.contents_vented() >= p.contents_before_stall) return stall(in, id, y, xs);
  v.exhausted_running = y - xs < kNothing ? v.exhausted_running + 1 : 0;
  if (v.exhausted_running < kExhausted) return;
  if (++v.pauses > p.pauses_before_stall) return stall(in, id, y, xs);
  v.exhausted_running = kExhausted - 1;      // one venting to look
  enter(in, id, PurgeStage::pausing);
  v.earliest_next = in.now() + p.pause_exhausted;
}

void go_on(const Inside& in, SystemId id, OxygenFraction reading, double target, std::string why) {
  VentState& v = in.vent(id);
  v.need_fraction = v.ledger.mean() - std::max(0.0, reading.fraction() - (target - kExcess));
  v.purity.first_rested.reset();
  enter(in, id, PurgeStage::venting);
  in.note(id, "rested sample " + percent_text(reading) + ": " + why + ", the purge goes on");
}

bool air_check_valid(const Inside& in, SystemId id) {
  const AnalyserState& a = in.analyser(in.site()[id].purity->analyser);
  return a.air_checked && !a.air_check_failed && in.now() - *a.air_checked <= in.site().venting.air_check_valid;
}

void verified(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  enter(in, id, PurgeStage::verified);
  v.purity.grade = far_end(in, id) ? Grade::verified_at_far_end : Grade::verified_at_riser;
  v.purity.verified_at = in.now();
  v.purity.was_at_target = true;
  v.purity.confirmed_below = v.purity.confirmed_again = 0;
  v.findings.stalled.reset();
  v.mode = Mode::keep;
  v.keep_since = in.now();
  in.note(id, "purity " + std::string(word(v.purity.grade)) + ", kept from now on");
}

void second_rest(const Inside& in, SystemId id, OxygenFraction r, double target) {
  VentState& v = in.vent(id);
  const Feed feed = feed_of(in.view, in.site()[id].supply);
  if (r.fraction() + kBetter > target) return go_on(in, id, r, target, "above the target");
  if (r.fraction() - v.purity.first_rested.value_or(r).fraction() >= kRise) return go_on(in, id, r, target, "it rose since the first");
  if (!bound_allows(in, id, target)) return go_on(in, id, r, target, "the ledger allows more in the pipe");
  if (v.ledger.lower() - r.fraction() >= kPocket && !v.ledger.start_unknown()) return go_on(in, id, r, target, "the ledger says a pocket is left");
  if (!feed.measured || !air_check_valid(in, id)) return;   // nothing is verified: sampled again when both are there
  verified(in, id);
}

// In mode keep: is it still there, and if not, is that certain?
void kept_sample(const Inside& in, SystemId id, OxygenFraction r, double target) {
  VentState& v = in.vent(id);
  v.purity.confirmed_below = r.fraction() > target + kLow ? v.purity.confirmed_below + 1 : 0;
  v.purity.confirmed_again = r.fraction() > target + kAgain ? v.purity.confirmed_again + 1 : 0;
  if (r.fraction() <= target && v.purity.verified_at && air_check_valid(in, id)) v.purity.verified_at = in.now();
  if (v.purity.confirmed_again < 2) return;
  begin_purge(in, id, "two samples above the target");
}

}  // namespace

void begin_purge(const Inside& in, SystemId id, std::string_view why) {
  VentState& v = in.vent(id);
  enter(in, id, PurgeStage::venting);
  v.purge_began = in.now();
  v.need_fraction = 1.0;
  v.exhausted_running = v.pauses = 0;
  v.dwell = in.site().venting.dwell;
  v.earliest_next.reset();
  v.waits_since.reset();
  v.findings.stalled.reset();
  v.purity.first_rested.reset();
  v.purity.confirmed_again = 0;
  if (in.twins) (*in.twins)[id.index].purge().restart(in.now());
  in.note(id, "purge begins: " + std::string(why));
}

void after_venting(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const auto target = target_of(in.view, id);
  if (v.stage != PurgeStage::venting || !target) return;
  const double xs = feed_of(in.view, in.site()[id].supply).oxygen.fraction();
  v.earliest_next = in.now() + v.dwell;
  if (v.follow.y_weight <= 0) return void(v.follow.last_y.reset());   // not measured: no judgement
  const double y = v.follow.y_sum / v.follow.y_weight;
  v.follow.last_y = y;
  if (in.twins) (*in.twins)[id.index].purge().add(in.now(), OxygenFraction::clamped(y));
  adapt_dwell(in, id, y, xs);
  const double t = target->fraction();
  if (bound_allows(in, id, t) && y <= t - kBetter && v.ledger.mean() <= v.need_fraction) {
    v.exhausted_running = 0;
    return enter(in, id, PurgeStage::resting_first);
  }
  exhausted(in, id, y, xs);
}

std::optional<EngineTime> next_sample(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  const VentingParams& p = view.site.venting;
  const EngineTime vented = v.last_venting_ended.value_or(v.stage_since);
  EngineTime due;
  if (v.stage == PurgeStage::resting_first) due = vented + p.rest_first;
  else if (v.stage == PurgeStage::resting_second) due = vented + p.rest_second;
  else if (v.mode == Mode::keep && v.stage != PurgeStage::venting && v.stage != PurgeStage::pausing) {
    due = std::max(v.last_sample.value_or(v.keep_since.value_or(view.now)), v.keep_since.value_or(EngineTime{}));
    if (v.purity.confirmed_below > 0) due += p.between_confirming_samples;
    else due += view.now - v.keep_since.value_or(view.now) < p.keep_sample_daily_for ? p.keep_sample / 7 : p.keep_sample;
  } else return std::nullopt;
  if (const auto refill = last_refill_ended(view, id)) due = std::max(due, *refill + p.rest_after_refill);
  return due;
}

bool sample_due(const SiteView& view, SystemId id) {
  const VentState& v = view.vent(id);
  if (busy(v) || v.locked || refilling(view, id)) return false;
  const auto due = next_sample(view, id);
  if (!due || view.now < *due) return false;
  if (v.stage != PurgeStage::resting_second) return true;
  const AnalyserState& a = view.analysers[view.site[id].purity->analyser.index];
  const bool checked = a.air_checked && !a.air_check_failed && view.now - *a.air_checked <= view.site.venting.air_check_valid;
  return checked && feed_of(view, view.site[id].supply).measured;
}

bool air_check_wanted(const SiteView& view, AnalyserId id) {
  const auto& checked = view.analysers[id.index].air_checked;
  if (checked && view.now - *checked <= view.site.venting.air_check_valid) return false;
  for (std::size_t i = 0; i < view.site.systems.size(); ++i) {
    const SystemId s{static_cast<std::uint16_t>(i)};
    if (!view.site[s].purity || view.site[s].purity->analyser != id || view.vents[i].locked || busy(view.vents[i])) continue;
    const auto due = next_sample(view, s);
    if (due && view.now >= *due && view.vents[i].stage != PurgeStage::resting_first) return true;
  }
  return false;
}

void rested_sample(const Inside& in, SystemId id, OxygenFraction r) {
  VentState& v = in.vent(id);
  const auto target = target_of(in.view, id);
  if (!target) return;
  v.last_sample = in.now();
  v.purity.rested = r;
  v.purity.rested_at = in.now();
  if (v.purity.grade < Grade::rested) v.purity.grade = Grade::rested;
  const double t = target->fraction();
  if (v.stage == PurgeStage::resting_first) {
    if (r.fraction() + kBetter > t) return go_on(in, id, r, t, "above the target");
    v.purity.first_rested = r;
    return enter(in, id, PurgeStage::resting_second);
  }
  if (v.stage == PurgeStage::resting_second) return second_rest(in, id, r, t);
  if (v.mode == Mode::keep) kept_sample(in, id, r, t);
}

void step_proof(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (v.stage != PurgeStage::pausing || !v.earliest_next || in.now() < *v.earliest_next) return;
  enter(in, id, PurgeStage::venting);
}

}  // namespace riserkeep
