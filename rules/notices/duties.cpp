// What people owe: the end of their work, and the chores that keep the judgement honest.
#include <algorithm>

#include "rules/notices/notices.h"
#include "rules/text.h"
#include "rules/tasks/chores.h"
#include "rules/tasks/windows.h"

namespace riserkeep {
namespace {

constexpr Duration kChoresAgain = days(7);           // the whole list, while something is overdue

std::string overdue_line(const SiteView& view, const Chores::Overdue& o) {
  const Chore& c = view.site.chores[o.chore];
  return std::string{word(c.kind)} + " of " + std::string{place_name(view.site, c.place)} + ", due " + duration_text(view.now - o.since) + " ago";
}

}  // namespace

void Notices::tend(const SiteView& view, Effects& out) {
  if (view.work && view.now.time_since_epoch() % minutes(1) == Duration{}) tend_work(view, out);
  if (view.chores && view.now.time_since_epoch() % hours(1) == Duration{}) tend_chores(view, out);
}

void Notices::tend_work(const SiteView& view, Effects& out) {
  std::map<SystemId, EngineTime> still;
  for (const WorkWindow& w : view.work->overrun(view.now)) {
    const auto told = overrun_told_.find(w.system);
    const bool again = told == overrun_told_.end() || view.now - told->second >= view.site.messages.remind_high;
    still[w.system] = again ? view.now : told->second;
    const std::string what = w.what + " by " + w.who + " was to end " + duration_text(view.now - w.until) + " ago.";
    if (again) tell_overrun(view, w.system, w.who, what, w.since, out);
  }
  overrun_told_ = std::move(still);
}

void Notices::tend_chores(const SiteView& view, Effects& out) {
  std::vector<std::uint16_t> now;
  std::vector<std::string> lines;
  for (const Chores::Overdue& o : view.chores->overdue(view.site, view.now)) {
    now.push_back(o.chore);
    lines.push_back(overdue_line(view, o));
  }
  const auto known = [&](std::uint16_t c) { return std::ranges::find(chores_known_, c) != chores_known_.end(); };
  const bool fresh = !std::ranges::all_of(now, known);
  chores_known_ = std::move(now);
  if (!fresh && (lines.empty() || view.now - chores_told_.value_or(EngineTime{}) < kChoresAgain)) return;
  chores_told_ = view.now;
  tell_chores(view, lines, view.now, out);
}

}  // namespace riserkeep
