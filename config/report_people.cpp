#include "config/report_people.h"

#include <map>

#include <fmt/format.h>

#include "config/load/local_times.h"
#include "config/load/upkeep.h"
#include "rules/text.h"

namespace riserkeep {

namespace {

std::string_view way_word(ReachBy by) {
  switch (by) {
    case ReachBy::mail: return "mail";
    case ReachBy::sms_by_mail: return "text by mail";
    case ReachBy::hook: return "hook";
  }
  return "";
}

std::string person_rows(const Site& site, const Person& p) {
  std::string ways;
  for (const Reach& r : p.reach) ways += fmt::format("{}{} {}", ways.empty() ? "" : ", then ", way_word(r.by), r.address);
  std::string out = fmt::format("  {}: {}\n    {}", p.id, ways, p.calls_now ? "what cannot wait" : "all");
  if (p.after > Duration{}) out += fmt::format(", once unacknowledged for {}", duration_text(p.after));
  if (p.at) out += fmt::format("; what can wait: {}", day_time_text(*p.at));
  if (p.quiet) out += fmt::format("; quiet {} to {}", clock_text(p.quiet->from_minute), clock_text(p.quiet->until_minute));
  std::string places;
  for (const PlaceId place : p.places) places += fmt::format("{}{}", places.empty() ? "" : ", ", place_id(site, place));
  if (!places.empty()) out += fmt::format("; only {} and what they depend on", places);
  return out + "\n";
}

std::string windows(const Site& site) {
  std::string out = "MAINTENANCE, local time\n";
  for (const RecurringWindow& w : site.windows) {
    std::string systems;
    for (const SystemId s : w.systems) systems += fmt::format("{}{}", systems.empty() ? "" : ", ", site[s].id);
    out += fmt::format("  {}: {}, {} for {}, by {}; {}\n", w.id, w.what, day_time_text(w.from),
                       duration_text(minutes(w.length_minutes)), w.who, systems.empty() ? "all systems" : systems);
  }
  return out;
}

std::string chores(const Site& site) {
  std::string out = "CHORES, done by a person; overdue ones are told\n";
  std::map<std::pair<ChoreKind, std::string>, std::string> rows;  // kind and when: where
  for (const Chore& c : site.chores) {
    const std::string when = c.every ? "every " + duration_text(*c.every)
                                     : c.before ? fmt::format("before {:02}-{:02}", c.before->month, c.before->day) : "";
    std::string& places = rows[{c.kind, when}];
    places += fmt::format("{}{}", places.empty() ? "" : ", ", place_id(site, c.place));
  }
  for (const auto& [what, places] : rows) out += fmt::format("  {}, {}: {}\n", chore_words(what.first), what.second, places);
  return out;
}

}  // namespace

std::string people_report(const Site& site) {
  std::string out;
  if (!site.people.empty()) {
    out += "PEOPLE, each way is tried when the one before has failed\n";
    for (const Person& p : site.people) out += person_rows(site, p);
    if (!site.holidays.empty())
      out += fmt::format("  holidays: {} days, {} to {}\n", site.holidays.size(), site.holidays.front(), site.holidays.back());
    if (site.messages.all_well) out += fmt::format("  all well: {}\n", day_time_text(*site.messages.all_well));
    if (!site.texts.empty()) out += fmt::format("  alarms in the site's own words: {}\n", site.texts.size());
  }
  if (!site.windows.empty()) out += (out.empty() ? "" : "\n") + windows(site);
  if (!site.chores.empty()) out += (out.empty() ? "" : "\n") + chores(site);
  return out;
}

}  // namespace riserkeep
