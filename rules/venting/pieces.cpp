#include <algorithm>
#include <cmath>

#include "rules/analyser.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr double kLearn = 0.2;               // weight of a new venting in k
constexpr double kCutInLearn = 0.5;
constexpr Duration kShort = minutes(1);
constexpr PressureChange kNearCutIn = psi(0.7);
constexpr Duration kFeedSampleLate = hours(2);   // a refill waits so long for its feed to be sampled
constexpr Duration kUnseen = hours(1);           // a gap that may hide a refill

Duration lag_of(const Inside& in, SystemId id) {
  const auto& goal = in.site()[id].purity;
  return goal ? sample_lag(in.site()[goal->analyser]) : Duration{};
}

Duration analyser_poll(const Inside& in, SystemId id) {
  const auto& goal = in.site()[id].purity;
  return goal ? in.site()[in.site()[goal->analyser].oxygen].poll : Duration{};
}

// The mean looks back half its window; with the feed off the pressure has fallen on since.
double pressure_now(const Inside& in, SystemId id, bool falling) {
  const auto mean = content_now(in.view, id);
  if (!mean) return 0;
  const double half = in_seconds(content_window(in.view, id)) / 2.0;
  return falling ? *mean * std::exp(-share_vented_per_second(in.view, id) * half) : *mean;
}

void learn_rate(const Inside& in, SystemId id, const VentPiece& p) {
  double& k = in.vent(id).commissioning.fall_share_per_s;
  if (!in.vent(id).pulse.by.empty()) return;   // a pulse learns its own
  if (p.fed || p.p1 <= 0 || p.p0 - p.p1 < psi(2).si() || k <= 0) return;
  const double seen = std::log(p.p0 / p.p1) / in_seconds(*p.until - p.from);
  if (seen > 0.5 * k && seen < 2.0 * k) k += kLearn * (seen - k);
}

void settle(const Inside& in, SystemId id, const VentPiece& p) {
  VentState& v = in.vent(id);
  if (p.p0 <= 0 || p.p1 <= 0) return;
  const double k = share_vented_per_second(in.view, id), dt = in_seconds(*p.until - p.from);
  const double vented = p.fed ? k * dt * (p.p0 + p.p1) / (2.0 * p.p0) : std::max(0.0, 1.0 - p.p1 / p.p0);
  const double fed = p.fed ? std::max(0.0, p.p1 / p.p0 - 1.0 + vented) : 0.0;
  std::optional<OxygenFraction> y;
  if (p.y_count > 0) y = OxygenFraction::clamped(p.y_sum / p.y_count);
  v.ledger.piece(vented, fed, y, feed_for_ledger(in.view, in.site()[id].supply));
  learn_rate(in, id, p);
  if (!y) return;
  v.follow.y_sum += vented * y->fraction();
  v.follow.y_weight += vented;
  if (in.twins && p.fed) (*in.twins)[id.index].purge().add(*p.until, *y);
}

// A refill is seen some time after it began: what was vented since counts with the feed on, whatever pieces
// were begun meanwhile.
bool split_at_refill(const Inside& in, SystemId id, std::deque<VentPiece>& pieces) {
  const auto& refill = in.view.twin(id).refills().current();
  if (!refill || pieces.back().fed) return false;
  std::size_t at = pieces.size() - 1;
  while (at > 0 && pieces[at].from >= refill->began && !pieces[at - 1].fed) --at;
  VentPiece& open = pieces[at];
  if (refill->began <= open.from) return false;
  VentPiece fed;
  fed.from = refill->began;
  // The feed has warmed the gas since: from a short piece's own beginning the content is known better.
  const Duration dt = refill->began - open.from;
  fed.p0 = dt <= kShort ? open.p0 * std::exp(-share_vented_per_second(in.view, id) * in_seconds(dt)) : content_of(in.view, id, refill->from);
  fed.fed = true;
  for (std::size_t i = at + 1; i < pieces.size(); ++i) {
    fed.y_sum += pieces[i].y_sum;
    fed.y_count += pieces[i].y_count;
  }
  open.until = refill->began;
  open.p1 = fed.p0;
  pieces.resize(at + 1);
  pieces.push_back(fed);
  return true;
}

}  // namespace

void begin_piece(const Inside& in, SystemId id) {
  VentPiece p;
  p.from = in.now();
  p.fed = refilling(in.view, id) || in.site()[id].air.regulated;
  const bool first = in.vent(id).follow.pieces.empty() || !in.vent(id).follow.pieces.back().until;
  p.p0 = first ? pressure_now(in, id, false) : in.vent(id).follow.pieces.back().p1;
  in.vent(id).follow.pieces.push_back(p);
}

void cut_piece(const Inside& in, SystemId id, bool last) {
  auto& pieces = in.vent(id).follow.pieces;
  if (pieces.empty() || pieces.back().until) return;
  if (split_at_refill(in, id, pieces) && !last) return;
  pieces.back().until = in.now();
  pieces.back().p1 = pressure_now(in, id, !pieces.back().fed);
  if (!last) begin_piece(in, id);
}

// Near the cut-in pieces are short, so that little has changed when a refill turns out to have begun.
Duration longest_piece(const Inside& in, SystemId id) {
  const auto p = in.view.channels.pressure(in.site(), in.site()[id].pressure, in.now());
  const bool near = p && *p < in.vent(id).cut_in_seen + kNearCutIn && !refilling(in.view, id);
  const Duration brief = std::max<Duration>(content_window(in.view, id), 3 * analyser_poll(in, id));
  return near ? std::min(brief, in.site().venting.piece) : in.site().venting.piece;
}

void pieces_oxygen(const Inside& in, SystemId id, EngineTime measured, OxygenFraction y) {
  const Duration lag = lag_of(in, id);
  for (VentPiece& p : in.vent(id).follow.pieces) {
    if (measured < p.from + lag || (p.until && measured > *p.until + lag)) continue;
    p.y_sum += y.fraction();
    ++p.y_count;
  }
}

void settle_pieces(const Inside& in, SystemId id) {
  VentFollow& f = in.vent(id).follow;
  const Duration wait = lag_of(in, id) + analyser_poll(in, id);
  while (!f.pieces.empty() && f.pieces.front().until && in.now() > *f.pieces.front().until + wait) {
    const VentPiece p = f.pieces.front();
    f.pieces.pop_front();
    settle(in, id, p);
    if (f.pieces.empty() && p.p1 > 0) in.vent(id).ledger.rebase(AbsolutePressure::from_si(p.p1));
  }
}

// Refills of a shut pipe, its own and those after a venting, and the resting pipe between them.
void follow_refills(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  VentFollow& f = v.follow;
  const RefillWatch& refills = in.view.twin(id).refills();
  const System& s = in.site()[id];
  if (vent_may_be_open(v)) return;
  if (refills.running()) {
    if (in.view.channels.contact(in.site(), in.site()[s.supply].air_bypass, in.now()).value_or(false)) v.ledger.restart();
    if (f.refill_from) return;
    f.refill_from = content_of(in.view, id, refills.current()->from);
    if (f.pieces.empty()) v.ledger.rest(AbsolutePressure::from_si(*f.refill_from), s.vent ? s.vent->tap : Tap::riser);
    return;
  }
  if (!f.pieces.empty()) return;
  const auto content = content_now(in.view, id);
  if (f.refill_from) {
    const auto ended = last_refill_ended(in.view, id);
    if (ended && in.now() - *ended < in.site().venting.shut_watch) return;
    const auto feed = feed_for_ledger(in.view, s.supply);
    if (!content || (!feed && ended && in.now() - *ended < kFeedSampleLate)) return;
    v.ledger.refill(AbsolutePressure::from_si(*f.refill_from), AbsolutePressure::from_si(*content), feed);
    f.refill_from.reset();
    f.rested_at = in.now();
    return;
  }
  if (f.rested_at && in.now() - *f.rested_at > kUnseen) v.ledger.unseen();
  const Duration every = std::min<Duration>(minutes(1), in.site().venting.shut_watch);
  if (!content || (f.rested_at && in.now() - *f.rested_at < every)) return;
  f.rested_at = in.now();
  v.ledger.rest(AbsolutePressure::from_si(*content), s.vent ? s.vent->tap : Tap::riser);
}

// Switches miss their setting by 1 psi and more: follow where refills really begin.
void learn_cut_in(const Inside& in, SystemId id) {
  const auto& refill = in.view.twin(id).refills().current();
  VentState& v = in.vent(id);
  if (!refill || v.last_refill_learned == refill->began) return;
  v.last_refill_learned = refill->began;
  const GaugePressure set = in.site()[id].air.cut_in;
  if (refill->from < set - psi(3) || refill->from > set + psi(3)) return;
  v.cut_in_seen = v.cut_in_seen + kCutInLearn * (refill->from - v.cut_in_seen);
  if (const auto rise = in.view.twin(id).refills().learned_rise()) v.commissioning.refill_pa_per_s = rise->si();
}

}  // namespace riserkeep
