#include <algorithm>
#include <cmath>
#include <string>

#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMean = 8;
constexpr PressureChange kPulse = psi(2), kLeast = psi(0.5), kGaugeAgrees = psi(2);
constexpr double kCrossed = 0.3;             // share of the own fall that a neighbour must not show
constexpr Duration kReadBack = seconds(2);
constexpr Duration kFalling = seconds(10);   // lower than so long ago: the feed has not begun

std::optional<GaugePressure> mean_of(const SiteView& view, SystemId id) {
  return view.twin(id).pressure().mean_of_last(kMean, view.now);
}

std::string crossed(const Inside& in, SystemId id, PressureChange own) {
  const auto& before = in.vent(id).pulse.before;
  for (const SystemId n : systems_by_id(in.site())) {
    const auto now = mean_of(in.view, n);
    if (n == id || !now || n.index >= before.size() || before[n.index] < 0) continue;
    const PressureChange fell = GaugePressure::from_si(before[n.index]) - *now;
    const PressureChange most = std::max({kCrossed * own, psi(0.25), 4.0 * in.view.twin(n).pressure().noise()});
    if (fell > most) return in.site()[n].name + " fell by " + psi_text(fell) + " meanwhile: vents or transducers are crossed";
  }
  return {};
}

// Means look back: the last kMean readings stand for the middle of their time. The content at the opening was
// taken with the gas temperature of then: gas that expands cools, and the pressure falls by more than the moles.
double learned_k(const Inside& in, SystemId id, GaugePressure now, Duration since_open) {
  const auto& pieces = in.vent(id).follow.pieces;
  if (pieces.empty() || pieces.front().p0 <= 0) return 0.0;
  const double before = pieces.front().p0;
  const double back = in_seconds(in.site()[in.site()[id].pressure].poll) * (kMean - 1) / 2.0;
  const double dt = in_seconds(since_open) - back;
  return dt > 0 ? std::log(before / content_of(in.view, id, now)) / dt : 0.0;
}

void pulse_done(const Inside& in, SystemId id, double k) {
  VentState& v = in.vent(id);
  if (k <= 0) return pulse_failed(in, id, "no rate could be learned");
  v.pulse.k = v.commissioning.fall_share_per_s = k;
  v.pulse.moved = true;
  close_vent(in, id, "pulse seen");
}

void measure_pulse(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const auto now = mean_of(in.view, id);
  if (!now) return;
  const Duration open = in.now() - *v.opened_at;
  const PressureChange fell = GaugePressure::from_si(v.pulse.before[id.index]) - *now;
  const PressureChange enough = std::max(kLeast, 8.0 * in.view.twin(id).pressure().noise());
  if (const std::string why = crossed(in, id, fell); !why.empty()) return pulse_failed(in, id, why);
  if (const auto& refill = in.view.twin(id).refills().current()) {
    const PressureChange before_it = GaugePressure::from_si(v.pulse.before[id.index]) - refill->from;
    if (before_it < enough && put_off_pulse(in, id)) return;
    if (before_it < enough) return pulse_failed(in, id, "the feed started before the fall could be measured: try again from a fuller pipe");
    if (v.pulse.k > 0) return pulse_done(in, id, v.pulse.k);   // as long as it fell; since then the feed warms the gas
    const double back = in_seconds(in.site()[in.site()[id].pressure].poll) * (kMean - 1) / 2.0;
    return pulse_done(in, id, learned_k(in, id, refill->from, refill->began - *v.opened_at + from_seconds(back)));
  }
  const auto then = in.view.twin(id).pressure().mean_of_last(kMean, in.now() - kFalling);
  if (fell >= enough && then && *then - *now > in.view.twin(id).pressure().noise()) v.pulse.k = learned_k(in, id, *now, open);
  const Ladder l = ladder_now(in.view, id);
  const bool low = *now < l.floor + psi(0.3);
  if (fell >= std::max(kPulse, enough) || (fell >= enough && (low || open >= in.site().venting.longest_venting)))
    return pulse_done(in, id, learned_k(in, id, *now, open));
  if (open < in.site().venting.effect_deadline || fell >= std::max(psi(0.25), 4.0 * in.view.twin(id).pressure().noise())) {
    if (open >= in.site().venting.longest_venting || low) pulse_failed(in, id, "the fall is too small to learn a rate from");
    return;
  }
  pulse_failed(in, id, "open, but this pressure does not fall");
  v.findings.blocked = in.now();
  v.findings.blocked_why = "commissioning: open for " + duration_text(open) + ", pressure fell " + psi_text(fell);
}

void hash(std::uint64_t& h, std::string_view s) {
  for (const char c : s) h = (h ^ static_cast<unsigned char>(c)) * 1099511628211ull;   // FNV-1a
  h = (h ^ 0xff) * 1099511628211ull;
}

}  // namespace

std::uint64_t wiring_hash(const Site& site, SystemId id) {
  const System& s = site[id];
  std::uint64_t h = 14695981039346656037ull;
  const Channel& c = site[s.pressure];
  hash(h, fixed(c.span_low, 3) + " " + fixed(c.span_high, 3));
  if (c.link) hash(h, site[*c.link].id);
  hash(h, word(s.kind));
  hash(h, word(s.valve.kind));
  hash(h, fixed(s.valve.ratio, 3) + " " + fixed(s.valve.highest_water.si(), 0) + " " + fixed(s.valve.low_air_switch.si(), 0));
  if (s.valve.trips_at) hash(h, fixed(s.valve.trips_at->si(), 0));
  if (!s.vent) return h;
  const Output& o = site[s.vent->output];
  hash(h, o.id);
  if (o.link) hash(h, site[*o.link].id);
  hash(h, fixed(1e6 * s.vent->bore.si(), 1) + " " + fixed(s.vent->discharge, 3));
  hash(h, word(s.vent->tap));
  return h;
}

void void_if_rewired(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (!v.commissioning.done || v.commissioning.wiring_hash == wiring_hash(in.site(), id)) return;
  close_vent(in, id, "vent, transducer, valve or bore changed");
  drop_pulse(in, id, "vent, transducer, valve or bore changed");
  v.commissioning = Commissioning{};
  v.commissioning.voided_why = "void: vent, transducer, valve or bore changed";
  v.mode = Mode::watch;
  in.note(id, "commissioning " + v.commissioning.voided_why);
}

bool begin_pulse(const Inside& in, const Commission& c, std::string_view who, std::string& why_not) {
  const SystemId id = c.system;
  const auto refusals = permit_pulse(in.view, id, false).refusals();
  const auto now = mean_of(in.view, id);
  const auto say = [&](std::string why) { why_not += (why_not.empty() ? "" : "; ") + std::move(why); };
  if (!waits_for_turn_only(refusals))
    for (const Refusal& r : refusals) say(std::string(r.what) + ": " + r.now + " (needs " + r.needs + ")");
  if (busy(in.vent(id))) say("turn: this vent is at work (needs a vent at rest)");
  if (who.empty()) say("name: none (needs the name of who commissions)");
  if (!c.gauge_compared) say("gauge: not compared (needs the reading of the gauge at the riser)");
  if (!now) say("pressure: too few readings yet (needs eight within two minutes)");
  else if (c.gauge_compared && (psig(c.gauge_psi) - *now > kGaugeAgrees || *now - psig(c.gauge_psi) > kGaugeAgrees))
    say("gauge: reads " + fixed(c.gauge_psi, 1) + " psi, the transducer " + psi_text(*now) + " (needs 2 psi or less between them)");
  if (!why_not.empty()) return false;
  in.vent(id).pulse_asked.reset();
  if (!refusals.empty()) {
    ask_pulse(in, id, std::string(who), std::string(refusals.front().what) + ", " + refusals.front().now);
    return true;
  }
  in.vent(id).pulse_asked = PulseAsked{std::string(who), {}, in.now(), 0};
  return start_pulse(in, id);
}

bool start_pulse(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  if (!mean_of(in.view, id) || !v.pulse_asked) return false;
  v.commissioning.done = false;
  v.findings = VentFindings{};
  if (v.mode == Mode::watch && !v.ledger_unbroken) {   // from here on its refills count, once the feed is sampled
    v.ledger.begin();
    v.ledger_unbroken = in.now();
  }
  v.pulse = VentPulse{};
  v.pulse.by = v.pulse_asked->by;
  v.pulse.tries = v.pulse_asked->tries;
  v.pulse_asked.reset();
  for (std::size_t i = 0; i < in.site().systems.size(); ++i) {
    const auto m = mean_of(in.view, SystemId{static_cast<std::uint16_t>(i)});
    v.pulse.before.push_back(m ? m->si() : -1.0);
  }
  v.follow = VentFollow{};
  v.opened_at = in.now();
  v.openings.push_back(in.now());
  v.off_deadline = in.now() + in.site().venting.longest_venting;
  begin_piece(in, id);   // nobody measures its gas
  v.phase = VentPhase::pulsing;
  v.phase_since = in.now();
  order_vent(in, id, true, "commissioning pulse");
  return true;
}

void step_pulse(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const OutputSeen& seen = in.output(in.site()[id].vent->output);
  const Output& o = in.site()[in.site()[id].vent->output];
  const Permit p = permit_pulse(in.view, id, true);
  if (!p.permitted()) {
    const Refusal r = p.refusals().front();
    return pulse_failed(in, id, std::string(r.what) + ": " + r.now);
  }
  if (!seen.confirmed_at && in.now() - *seen.ordered_at > kReadBack + o.reply_time_out + o.valve_travel)
    return pulse_failed(in, id, "the opening was not read back");
  if (in.now() - *v.opened_at < seconds(1)) return;
  measure_pulse(in, id);
}

void pulse_closed(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const std::string by = v.pulse.by;
  const OutputSeen& seen = in.output(in.site()[id].vent->output);
  if (seen.state != OutputState::shut) return pulse_failed(in, id, "the close was not read back");
  if (v.findings.stuck_open || v.findings.mismatch) return pulse_failed(in, id, "the vent did not close");
  Commissioning& c = v.commissioning;
  c.done = true;
  c.by = by;
  c.at = in.now();
  c.voided_why.clear();
  c.wiring_hash = wiring_hash(in.site(), id);
  v.pulse.by.clear();
  in.note(id, "commissioned by " + by + ": vents " + fixed(1e6 * v.pulse.k, 1) + " ppm of the content a second");
}

void pulse_failed(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  v.pulse.by.clear();
  v.commissioning.done = false;
  v.commissioning.fall_share_per_s = 0;
  v.commissioning.voided_why = "failed: " + why;
  close_vent(in, id, "commissioning failed: " + why);
  in.note(id, "commissioning failed: " + std::move(why));
}

}  // namespace riserkeep
