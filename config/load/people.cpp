#include "config/load/people.h"

#include <algorithm>

#include <fmt/format.h>

#include "config/load/local_times.h"

namespace riserkeep {

namespace {

constexpr std::string_view kExample = "night: {mail: night@example.org, for: call now}";

bool is_address(const std::string& a) {
  const auto at = a.find('@');
  return at != std::string::npos && at > 0 && at + 1 < a.size() && a.find('@', at + 1) == std::string::npos &&
         a.find_first_of(" \t\r\n<>,;\"") == std::string::npos;
}

bool is_https(const std::string& a) {
  return a.rfind("https://", 0) == 0 && a.size() > 8 && a[8] != '/' && a.find_first_of(" \t\r\n\"<>@") == std::string::npos;
}

void add_way(const Field& f, ReachBy by, Person& p) {
  for (const Field& one : one_or_more(f)) {
    const auto address = read_text(one);
    if (!address) continue;
    if (by == ReachBy::hook && !is_https(*address))
      one.error(fmt::format("'{}' is not an https address", *address),
                "write it like https://alerts.example.org/riserkeep; a user or password does not belong into it");
    if (by != ReachBy::hook && !is_address(*address))
      one.error(fmt::format("'{}' is not a mail address", *address), "write it like works@example.org");
    p.reach.push_back({by, *address});
  }
}

// In the order they are written: that is the order they are tried.
void read_ways(Section& s, Person& p) {
  struct Way {
    std::string_view key;
    ReachBy by;
  };
  constexpr Way kWays[] = {{"mail", ReachBy::mail}, {"sms_by_mail", ReachBy::sms_by_mail}, {"hook", ReachBy::hook}};
  std::vector<std::pair<Mark, std::pair<Field, ReachBy>>> found;
  for (const Way& w : kWays)
    if (auto f = s.get(w.key)) found.push_back({f->node->mark, {*f, w.by}});
  std::ranges::sort(found, {}, [](const auto& w) { return std::pair{w.first.line, w.first.column}; });
  for (const auto& [mark, way] : found) add_way(way.first, way.second, p);
  if (found.empty() && s.field().is_map())
    s.field().error("there is no address", "give one of mail:, sms_by_mail: or hook:; several are tried as written");
}

void read_places(Build& b, const Field& f, Person& p) {
  for (const Field& one : one_or_more(f)) {
    const auto text = read_text(one);
    if (!text) continue;
    const auto place = find_place(b.d.site, slug(*text));
    if (place && place->kind != PlaceKind::link) {
      p.places.push_back(*place);
      continue;
    }
    std::vector<std::string> known;
    for (const System& s : b.d.site.systems) known.push_back(s.id);
    for (const Supply& s : b.d.site.supplies) known.push_back(s.id);
    for (const Room& r : b.d.site.rooms) known.push_back(r.id);
    one.error(fmt::format("there is no system, supply or room '{}'", *text), suggest(slug(*text), known));
  }
}

void read_person(Build& b, const Field& f, const std::string& key) {
  Section s(f, kExample.substr(7));
  Person p;
  p.id = slug(key);
  if (p.id.empty()) f.error(fmt::format("'{}' gives no id", key), "use at least one letter a to z or digit");
  if (std::ranges::any_of(b.d.site.people, [&](const Person& other) { return other.id == p.id; }))
    f.error(fmt::format("'{}' gives the same id as another person, '{}'", key, p.id), "use another name");
  read_ways(s, p);
  if (const auto v = s.need("for", "for: all"))
    if (const auto i = read_choice(*v, {"all", "call now"})) p.calls_now = *i == 1;
  if (const auto v = s.get("places")) read_places(b, *v, p);
  if (const auto v = s.get("after")) p.after = read_duration(*v, minutes(1), hours(48)).value_or(Duration{});
  const auto at = s.get("at");
  if (at) p.at = read_day_time(*at);
  if (const auto v = s.get("quiet")) p.quiet = read_quiet_hours(*v);
  if (p.at && p.calls_now)
    at->warn("'at' has no effect with 'for: call now': nothing that can wait is sent there", "write 'for: all', or remove 'at'");
  b.d.site.people.push_back(std::move(p));
}

// Somebody must hear of what stands unacknowledged from its first minute.
void check_first(const Build& b, const Field& f) {
  const auto& people = b.d.site.people;
  if (people.empty() || std::ranges::any_of(people, [](const Person& p) { return p.after == Duration{}; })) return;
  f.warn("everybody is told only after a time: nobody hears of an alarm at once", "leave 'after' out for who is told first");
}

}  // namespace

void read_people(Build& b, const std::optional<Field>& f) {
  if (!f) {
    if (b.purpose == Purpose::run || b.purpose == Purpose::check)
      b.problems.warn({}, "people", "nobody is named who would be told", fmt::format("add people: {{{}}}", kExample));
    return;
  }
  if (!f->is_map()) {
    f->error("a map is expected here", fmt::format("write it like {}", kExample));
    return;
  }
  for (const Entry& e : f->node->entries) read_person(b, f->of(e), e.key);
  check_first(b, *f);
}

void read_holidays(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  if (f->node->kind != Node::Kind::list) {
    f->error("a list of dates is expected here", "write it like [2026-12-25, 2027-01-01]");
    return;
  }
  auto& all = b.d.site.holidays;
  for (const Field& one : one_or_more(*f)) {
    const auto date = read_date(one);
    if (!date) continue;
    if (std::ranges::find(all, *date) != all.end()) one.warn(fmt::format("{} is there twice", *date), "remove one");
    else all.push_back(*date);
  }
  std::ranges::sort(all);
}

}  // namespace riserkeep
