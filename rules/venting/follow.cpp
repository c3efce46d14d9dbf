#include <algorithm>
#include <cmath>

#include "rules/text.h"
#include "rules/venting/inside.h"
#include "rules/venting/measure.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMean = 8;             // readings
constexpr int kRunning = 5;                  // readings that agree before a venting under way is doubted
constexpr Duration kAfterFeed = seconds(30);
constexpr double kTooFast = 2.0;
constexpr PressureChange kSwitchMiss = psi(1);  // a shared feed may hold the pressure flat instead of raising it

// Long enough that half a psi, or what stands out of the noise, should be gone.
Duration effect_window(const Inside& in, SystemId id, double content, double k) {
  const double wanted = std::max(psi(0.5), 4.0 * in.view.twin(id).pressure().noise()).si();
  const double s = k * content > 0 ? wanted / (k * content) : 1e9;
  const Duration readings = static_cast<int>(kMean) * in.site()[in.site()[id].pressure].poll;
  return std::max(std::min(from_seconds(std::min(s, 1e6)), in.site().venting.effect_deadline), readings);
}

bool rises(const Inside& in, SystemId id, double least) {
  const auto slope = in.view.twin(id).pressure().slope(in.now() - seconds(30), in.now());
  return slope && slope->si() > least;
}

void lock_with(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  if (v.locked) return;
  v.locked = true;
  v.locked_why = std::move(why);
}

}  // namespace

// Half of the expected fall must be seen: once at the deadline, and over every such stretch after it.
void follow_effect(const Inside& in, SystemId id) {
  VentState& v = in.vent(id);
  const PressureTrack& track = in.view.twin(id).pressure();
  if (!v.opened_at || refilling(in.view, id) || in.site()[id].air.regulated) {
    v.follow.misses = 0;
    return;
  }
  const double k = share_vented_per_second(in.view, id);
  const auto now = track.mean_of_last(kMean, in.now());
  if (!now || k <= 0) return;
  const Duration window = effect_window(in, id, content_of(in.view, id, *now), k);
  if (in.now() - *v.opened_at < window) return;
  const auto fed = last_refill_ended(in.view, id);
  if (fed && *fed + kAfterFeed > in.now() - window) return;   // the stretch would reach back into the rise
  const auto then = track.mean_of_last(kMean, in.now() - window);
  if (!then) return;
  const double content = content_of(in.view, id, *then);
  const double expected = content * (1.0 - std::exp(-k * in_seconds(window))), fell = content - content_of(in.view, id, *now);
  if (fell > kTooFast * expected + 4.0 * track.noise().si()) return close_vent(in, id, "falls faster than this vent explains");
  if (fell >= 0.5 * expected) {
    v.follow.effect_seen = true;
    v.follow.misses = 0;
    return;
  }
  if (rises(in, id, 0.25 * k * content)) return;   // the feed has started, though not called a refill yet
  ++v.follow.misses;
  const std::string why = "open, but the pressure fell " + fixed(fell / kPascalPerPsi, 2) + " psi in " + duration_text(window) + " where " +
                          fixed(expected / kPascalPerPsi, 2) + " psi was due";
  if (!v.follow.effect_seen) return found_blocked(in, id, why + ": vent or hand valve blocked, or the gauge line is shut");
  if (v.follow.misses < kRunning) return;
  if (*now <= v.cut_in_seen + kSwitchMiss) return close_vent(in, id, "the feed has probably begun");
  found_blocked(in, id, why + ": pressure does not follow the vent");
}

bool falls_on(const Inside& in, SystemId id, EngineTime after, EngineTime until) {
  const auto slope = in.view.twin(id).pressure().slope(after, until);
  const auto content = content_now(in.view, id);
  const double k = share_vented_per_second(in.view, id);
  return slope && content && k > 0 && slope->si() < -0.5 * k * *content;
}

void found_blocked(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  close_vent(in, id, "no effect");
  if (!v.findings.blocked) v.findings.blocked = in.now();
  v.findings.blocked_why = why;
  lock_with(in, id, "vent blocked: " + why);
}

void found_stuck(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  order_vent(in, id, false, "falls on after the close");
  if (!v.findings.stuck_open) v.findings.stuck_open = in.now();
  v.findings.stuck_why = why + ": shut the hand valve of the vent of " + in.site()[id].name;
  for (const SystemId n : systems_by_id(in.site())) {
    if (in.site()[n].supply != in.site()[id].supply || !in.site()[n].vent) continue;
    if (vent_may_be_open(in.vent(n))) close_vent(in, n, "the vent of " + in.site()[id].name + " is stuck open");
    lock_with(in, n, "the vent of " + in.site()[id].name + " is stuck open");
  }
}

void found_mismatch(const Inside& in, SystemId id, std::string why) {
  VentState& v = in.vent(id);
  if (!v.findings.mismatch) v.findings.mismatch = in.now();
  v.findings.mismatch_why = why;
  lock_with(in, id, "output: " + why);
}

}  // namespace riserkeep
