#include "rules/tasks/windows.h"

#include <algorithm>

#include "rules/text.h"

namespace riserkeep {
namespace {

bool refuse(std::string& why_not, std::string why) {
  why_not = std::move(why);
  return false;
}

std::string by_whom(const WorkWindow& w) { return w.what + (w.who.empty() ? "" : ", by " + w.who); }

void note(const SiteView& view, SystemId id, std::string text, Effects& out) {
  out.push_back({view.now, Note{id, std::move(text)}});
}

std::string missing_of(const WorkEnd& c) {
  std::string out;
  const auto lacks = [&](bool done, std::string_view what) { if (!done) (out += out.empty() ? "" : ", ") += what; };
  lacks(c.reset, "valve reset");
  lacks(c.drained, "pipe and drains free of water");
  lacks(c.water_valve_open, "water valve open");
  return out;
}

std::string wrong_gas(const WorkEnd& c) {
  if (c.gas == "nitrogen" || c.gas == "air" || c.gas == "unchanged") return {};
  return "which gas is in the pipe? Say nitrogen, air, or unchanged if it was not opened";
}

// True where the pressure says that the pipe was open, or cannot deny it and nobody says that it was not.
bool may_hold_air(const WorkWindow& w, const WorkEnd* said) {
  if (said && said->gas == "air") return true;
  if (w.lowest && *w.lowest < WorkWindows::kOpened) return true;
  return said && said->gas == "nitrogen" && (w.unread || !w.lowest);
}

}  // namespace

bool WorkWindows::start(const SiteView& view, const WorkStart& c, std::string_view who, Effects& out, std::string& why_not) {
  if (c.what.empty()) return refuse(why_not, "what is done there?");
  if (c.how_long <= Duration{}) return refuse(why_not, "until when? An open end would be forgotten");
  if (c.how_long > kLongest) return refuse(why_not, "longer than 14 d is no work window: take the place out of service, with a reason");
  const auto same = std::ranges::find_if(open_, [&](const WorkWindow& w) { return w.system == c.system && !w.recurring; });
  if (same != open_.end() && same->who != who)
    return refuse(why_not, "there is work already: " + by_whom(*same) + ", for " + duration_text(view.now - same->since) + "; end that first");
  if (same != open_.end()) {
    same->until = view.now + c.how_long;
    same->what = c.what;
    same->overrun_said = same->quiet_ended = false;
  } else {
    open_.push_back({c.system, c.what, std::string{who}, view.now, view.now + c.how_long, {}, {}});
  }
  note(view, c.system, std::string(same != open_.end() ? "work goes on: " : "work begins: ") + c.what + ", by " + std::string{who} +
                           ", for " + duration_text(c.how_long) + "; vent locked, expected alarms quiet", out);
  return true;
}

bool WorkWindows::end(const SiteView& view, const WorkEnd& c, std::string_view who, Effects& out, std::string& why_not) {
  const auto found = std::ranges::find_if(open_, [&](const WorkWindow& w) { return w.system == c.system && !w.recurring; });
  if (found == open_.end()) return refuse(why_not, "no work is announced here");
  if (std::string wrong = wrong_gas(c); !wrong.empty()) return refuse(why_not, std::move(wrong));
  const std::string missing = missing_of(c);
  if (!missing.empty() && c.except.empty())
    return refuse(why_not, "not said: " + missing + "; see to it and say so, or say why not");
  note(view, c.system, "work ended by " + std::string{who} + ": " + found->what + "; gas: " + c.gas +
                           (missing.empty() ? "" : "; not done: " + missing + " (" + c.except + ")"), out);
  const bool air = may_hold_air(*found, &c);
  close(view, static_cast<std::size_t>(found - open_.begin()), air, out);
  return true;
}

void WorkWindows::close(const SiteView& view, std::size_t index, bool air, Effects& out) {
  const SystemId system = open_[index].system;
  if (air) {
    note(view, system, "the pipe was opened or filled with air: its purity is not known", out);
    aired_.push_back(system);
  }
  open_.erase(open_.begin() + static_cast<std::ptrdiff_t>(index));
}

void WorkWindows::calendar(const SiteView& view, std::uint16_t index, bool begins, Effects& out) {
  if (index >= view.site.windows.size()) return;
  const RecurringWindow& r = view.site.windows[index];
  if (!begins) {
    for (std::size_t i = open_.size(); i-- > 0;)
      if (open_[i].recurring == index) {
        note(view, open_[i].system, "maintenance ended: " + open_[i].what, out);
        close(view, i, may_hold_air(open_[i], nullptr), out);
      }
    return;
  }
  if (std::ranges::any_of(open_, [&](const WorkWindow& w) { return w.recurring == index; })) return;
  for (std::size_t i = 0; i < view.site.systems.size(); ++i) {
    const SystemId system{static_cast<std::uint16_t>(i)};
    if (!r.systems.empty() && std::ranges::find(r.systems, system) == r.systems.end()) continue;
    open_.push_back({system, r.what, r.who, view.now, view.now + minutes(r.length_minutes), index, {}});
    note(view, system, "maintenance begins: " + by_whom(open_.back()) + ", for " + duration_text(minutes(r.length_minutes)), out);
  }
}

void WorkWindows::tick(const SiteView& view, Effects& out) {
  for (std::size_t i = open_.size(); i-- > 0;) {
    WorkWindow& w = open_[i];
    const auto p = view.channels.pressure(view.site, view.site[w.system].pressure, view.now);
    if (p) w.lowest = std::min(w.lowest.value_or(*p), *p);
    else w.unread = true;
    if (view.now < w.until) continue;
    if (w.recurring) {               // the calendar did not say so in time: it must not stay open for ever
      note(view, w.system, "maintenance ended: " + w.what, out);
      close(view, i, may_hold_air(w, nullptr), out);
      continue;
    }
    if (!std::exchange(w.overrun_said, true)) note(view, w.system, "work runs over: " + by_whom(w), out);
    if (view.now - w.until >= kQuietAfter && !std::exchange(w.quiet_ended, true))
      note(view, w.system, "work has run over for " + duration_text(kQuietAfter) + ": alarms here are told again; the vent stays locked", out);
  }
}

const WorkWindow* WorkWindows::at(SystemId id) const {
  const WorkWindow* found = nullptr;
  for (const WorkWindow& w : open_)
    if (w.system == id && (!found || found->recurring)) found = &w;
  return found;
}

std::vector<QuietWork> WorkWindows::quiet() const {
  std::vector<QuietWork> out;
  for (const WorkWindow& w : open_)
    if (!w.quiet_ended) out.push_back({w.system, w.who, w.what, w.since, w.until});
  return out;
}

std::vector<WorkWindow> WorkWindows::overrun(EngineTime now) const {
  std::vector<WorkWindow> out;
  std::ranges::copy_if(open_, std::back_inserter(out), [&](const WorkWindow& w) { return !w.recurring && now >= w.until; });
  return out;
}

std::vector<SystemId> WorkWindows::take_aired() { return std::exchange(aired_, {}); }

}  // namespace riserkeep
