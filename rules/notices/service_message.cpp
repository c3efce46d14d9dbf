// Messages that are about no alarm: all well, started, stopping, test, work, chores.
#include <algorithm>

#include "rules/alarms/board.h"
#include "rules/notices/message.h"
#include "rules/notices/paragraph.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMostNamed = 20;

std::string count(std::size_t n, std::string_view one, std::string_view many) {
  return fixed(static_cast<double>(n), 0) + " " + std::string{n == 1 ? one : many};
}

Draft plain(const SiteView& view, NoticeKind kind, Priority priority, const std::string& words, const std::string& more) {
  Draft d;
  d.kind = kind;
  d.priority = priority;
  d.since = view.now;
  d.subject = view.site.id + ": " + words;
  d.short_text = shortened(view.site.name + ": " + words);
  d.long_text = view.site.name + " (" + view.site.id + ")\n\n" + words + "\n" + more;
  return d;
}

std::vector<std::string> not_measured(const SiteView& view) {
  std::vector<std::string> out;
  for (const System& s : view.site.systems)
    if (!view.channels.pressure(view.site, s.pressure, view.now)) out.push_back(s.name);
  return out;
}

std::string joined(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size() && i < kMostNamed; ++i) out += (i ? ", " : "") + names[i];
  return names.size() > kMostNamed ? out + " and " + count(names.size() - kMostNamed, "more", "more") : out;
}

std::string line_of(const SiteView& view, const AlarmBoard::Item& i) {
  return std::string{word(i.life->priority())} + ": " + std::string{place_name(view.site, i.place)} + ", " +
         std::string{class_of(i.alarm).what} + ", for " + duration_text(view.now - i.life->since()) + ". Ref " + reference_of(i.life->id());
}

}  // namespace

Draft all_well_draft(const SiteView& view) {
  std::vector<AlarmBoard::Item> standing = view.alarms.open();
  std::erase_if(standing, [](const AlarmBoard::Item& i) { return !i.life->standing(); });
  const std::vector<std::string> unseen = not_measured(view);
  const std::string measured = count(view.site.systems.size() - unseen.size(), "system", "systems") + " measured";
  if (standing.empty() && unseen.empty()) return plain(view, NoticeKind::all_well, Priority::low, "all is well, " + measured + ", no alarm stands.", {});
  std::string words = standing.empty() ? std::string{"no alarm stands"} : "not all is well: " + count(standing.size(), "alarm stands", "alarms stand");
  if (!unseen.empty()) words += ", air not measured: " + joined(unseen);
  if (!standing.empty())
    words += "; first: " + std::string{place_name(view.site, standing[0].place)} + ", " + std::string{class_of(standing[0].alarm).what};
  std::string more;
  Draft d = plain(view, NoticeKind::all_well, Priority::low, words + ".", {});
  for (std::size_t i = 0; i < standing.size() && i < kMostNamed; ++i) d.long_text += "- " + line_of(view, standing[i]) + "\n";
  for (const AlarmBoard::Item& i : standing) d.references.push_back(reference_of(i.life->id()));
  return d;
}

Draft started_draft(const SiteView& view, std::optional<Duration> stopped) {
  const std::string gap = stopped ? *stopped > Duration{} ? "supervision starts again after " + duration_text(*stopped) + "." : std::string{"supervision starts."}
                                  : std::string{"supervision starts again after a stop of unknown length."};
  return plain(view, NoticeKind::started, Priority::low, gap,
               "Delays of alarms count from now. No vent opens before ten minutes of good readings.\n");
}

Draft stopping_draft(const SiteView& view, std::string_view why) {
  std::string words = "supervision stops on purpose";
  if (!why.empty()) words += " (" + std::string{why} + ")";
  Draft d = plain(view, NoticeKind::stopping, Priority::low, words + ". Vents go shut; nothing is told until it starts again.", {});
  d.urgent = true;
  return d;
}

Draft test_draft(const SiteView& view, std::string_view who) {
  Draft d = plain(view, NoticeKind::test, Priority::low, "test message, asked for by " + std::string{who} + ". Nothing to do.", {});
  d.urgent = true;
  return d;
}

Draft work_draft(const SiteView& view, SystemId system, std::string_view what, EngineTime since) {
  Draft d = plain(view, NoticeKind::work, Priority::high, std::string{place_name(view.site, system)} + ": " + std::string{what},
                  "While the work lasts the vents of this system stay locked and its alarms are not told. End it with: riserkeep work end " +
                      std::string{place_id(view.site, system)} + " --by NAME\n");
  d.urgent = true;
  d.place = system;
  d.since = since;
  return d;
}

Draft chores_draft(const SiteView& view, const std::vector<std::string>& overdue, EngineTime since) {
  std::string list;
  for (const std::string& o : overdue) list += "- " + o + "\n";
  Draft d = plain(view, NoticeKind::chores, Priority::low, "nobody looked: " + (overdue.size() == 1 ? overdue.front() : count(overdue.size(), "chore is", "chores are") + " overdue") + ".",
                  overdue.size() > 1 ? list : std::string{});
  d.since = since;
  return d;
}

}  // namespace riserkeep
