#include "rules/judge/purge.h"

#include "rules/calendar_book.h"
#include "rules/judge/common.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr int kConfirming = 2;         // samples, an hour apart, before a fall of the purity is believed

std::optional<OxygenFraction> newest(const PurityState& p) {
  std::optional<OxygenFraction> out = p.indicated;
  EngineTime at = p.indicated_at;
  if (p.rested && (!out || p.rested_at >= at)) { out = p.rested; at = p.rested_at; }
  if (p.by_hand && (!out || p.by_hand_at >= at)) out = p.by_hand;
  return out;
}

Raise oxygen(std::optional<OxygenFraction> now, OxygenFraction target, std::string cause) {
  Raise r;
  r.value = now.value_or(target).percent();
  r.limit = target.percent();
  r.unit = "% O2";
  r.cause = std::move(cause);
  return r;
}

// While a new purge runs the alarm keeps standing: only a sample at the target clears it.
Verdict low(const PurityState& p, OxygenFraction target) {
  const auto now = newest(p);
  if (!now) return CannotTell{};
  if (p.was_at_target && p.confirmed_below >= kConfirming) return oxygen(now, target, {});
  if (*now <= target) return Clear{};
  return Hold{};
}

Raise overdue(Duration age, Duration limit, Priority priority, std::string cause) {
  Raise r;
  r.value = in_hours(age) / 24;
  r.limit = in_hours(limit) / 24;
  r.unit = "d";
  r.priority = priority;
  r.cause = std::move(cause);
  return r;
}

// The date that the site file gives, told by the calendar; counted from the moment it came.
std::optional<EngineTime> date_passed(const SiteView& view, SystemId id) {
  const auto& goal = view.site[id].purity;
  if (!goal || !goal->purge_due || !view.calendar) return std::nullopt;
  return view.calendar->since(view.site, CalendarKey::purge_due, id.index);
}

Verdict proof(const SiteView& view, SystemId id, const PurgeRule::Params& p) {
  const VentState& v = view.vent(id);
  if (v.mode == Mode::watch) return Clear{};
  const auto came = date_passed(view, id);
  if (v.mode == Mode::purge && came) {
    const Duration late = view.now - *came;
    return overdue(late, Duration{}, late > p.overdue_medium ? Priority::medium : Priority::low, "the date it was due has passed");
  }
  const auto since = v.mode == Mode::purge ? v.purge_began : v.purity.verified_at ? v.purity.verified_at : v.keep_since;
  if (!since) return Hold{};
  const Duration limit = v.mode == Mode::purge ? p.verified_within : p.proof_age;
  const Duration age = view.now - *since;
  if (age <= limit) return Clear{};
  const Priority priority = age > limit + p.overdue_medium ? Priority::medium : Priority::low;
  return overdue(age, limit, priority, v.mode == Mode::purge ? "purge not verified" : "last verified " + duration_text(age) + " ago");
}

}  // namespace

void PurgeRule::judge(const SiteView& view, PlaceId place, const Params& p, State&, std::span<Verdict> out) {
  const SystemId id = system_of(place);
  const auto& goal = view.site[id].purity;
  if (!goal) {
    for (Verdict& v : out) v = Clear{};
    return;
  }
  const VentState& v = view.vent(id);
  out[0] = low(v.purity, goal->target);
  if (v.findings.stalled) out[1] = oxygen(newest(v.purity), goal->target, v.findings.stall_why);
  else out[1] = Clear{};
  out[2] = proof(view, id, p);
}

}  // namespace riserkeep
