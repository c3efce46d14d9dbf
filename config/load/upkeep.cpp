#include "config/load/upkeep.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "config/load/local_times.h"
#include "config/load/wiring.h"

namespace riserkeep {

namespace {

struct ChoreRow {
  ChoreKind kind;
  std::string_view words;
  PlaceKind where;
  std::optional<Duration> every;
  std::optional<Chore::Date> before;
};

// In the order of ChoreKind. Defaults are judgement, except the leak test and the drains: docs/site-file.md says why.
const std::array<ChoreRow, 5> kChores{{
    {ChoreKind::gauge_comparison, "gauge comparison", PlaceKind::system, days(90), std::nullopt},
    {ChoreKind::air_check, "air check", PlaceKind::analyser, days(30), std::nullopt},
    {ChoreKind::hand_reading, "hand reading", PlaceKind::system, days(180), std::nullopt},
    {ChoreKind::leak_test, "leak test", PlaceKind::system, days(3 * 365), std::nullopt},
    {ChoreKind::low_point_drains, "low-point drains", PlaceKind::system, std::nullopt, Chore::Date{10, 15}},
}};

std::vector<std::string> all_words() {
  std::vector<std::string> out;
  for (const ChoreRow& c : kChores) out.emplace_back(c.words);
  return out;
}

// What a chore of this kind is about when no place is named. A far-end tap brings its own reading of the far end.
bool concerns(const Site& site, const ChoreRow& row, PlaceId p) {
  if (row.kind == ChoreKind::air_check) return site.analysers[p.index].cell == Cell::galvanic;
  if (row.kind != ChoreKind::hand_reading) return true;
  const System& s = site.systems[p.index];
  return s.purity && s.vent && s.vent->tap == Tap::riser;
}

std::vector<PlaceId> all_places(const Site& site, const ChoreRow& row) {
  const std::size_t count = row.where == PlaceKind::analyser ? site.analysers.size() : site.systems.size();
  std::vector<PlaceId> out;
  for (std::size_t i = 0; i < count; ++i)
    if (const PlaceId p{row.where, static_cast<std::uint16_t>(i)}; concerns(site, row, p)) out.push_back(p);
  return out;
}

std::vector<PlaceId> read_places(Build& b, const Field& f, const ChoreRow& row) {
  std::vector<PlaceId> out;
  for (const Field& one : one_or_more(f)) {
    const auto text = read_text(one);
    if (!text) continue;
    const auto place = find_place(b.d.site, slug(*text));
    if (place && place->kind == row.where) {
      out.push_back(*place);
      continue;
    }
    std::vector<std::string> known;
    if (row.where == PlaceKind::system)
      for (const System& s : b.d.site.systems) known.push_back(s.id);
    else
      for (const Analyser& a : b.d.site.analysers) known.push_back(a.id);
    one.error(fmt::format("'{}' is no {} of this file", *text, row.where == PlaceKind::system ? "system" : "analyser"),
              suggest(slug(*text), known));
  }
  return out;
}

bool is_never(const Field& f) { return f.node->kind == Node::Kind::scalar && f.node->text == "never"; }

void add_chores(Site& site, const ChoreRow& row, const std::vector<PlaceId>& places, std::optional<Duration> every,
                std::optional<Chore::Date> before) {
  for (const PlaceId p : places) {
    Chore c;
    c.kind = row.kind;
    c.place = p;
    c.every = every;
    c.before = before;
    site.chores.push_back(c);
  }
}

// The kind it is about, or nothing.
std::optional<ChoreKind> read_chore(Build& b, const Field& f) {
  Section s(f, "{do: gauge comparison, every: 90 d}");
  const auto what = s.need("do", "do: gauge comparison");
  const auto every = s.get("every");
  const auto before = s.get("before");
  const auto at = s.get("at");
  const auto kind = what ? read_choice(*what, all_words()) : std::nullopt;
  if (!kind) return std::nullopt;
  const ChoreRow& row = kChores[*kind];
  if (every && is_never(*every)) return row.kind;
  if (every && before) f.error("both 'every' and 'before' are given", "keep one: a stretch of time, or a day of the year");
  auto again = every || before ? std::nullopt : row.every;
  auto date = every || before ? std::nullopt : row.before;
  if (every) again = read_duration(*every, hours(1), days(3660));
  if (before) date = read_day_of_year(*before);
  add_chores(b.d.site, row, at ? read_places(b, *at, row) : all_places(b.d.site, row), again, date);
  return row.kind;
}

void check_chores(const Field& f, const Site& site) {
  for (std::size_t i = 0; i < site.chores.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      const Chore &a = site.chores[i], &b = site.chores[j];
      if (a.kind != b.kind || a.place != b.place || a.before.has_value() != b.before.has_value()) continue;
      return f.error(fmt::format("{} at {} is asked for twice", chore_words(a.kind), place_id(site, a.place)),
                     "name the places of each with 'at:'");
    }
}

void read_window(Build& b, const Field& f, const std::string& key) {
  Section s(f, "{what: weekly test, who: Works, from: sunday 02:30, for: 90 min}");
  RecurringWindow w;
  w.id = slug(key);
  if (w.id.empty()) f.error(fmt::format("'{}' gives no id", key), "use at least one letter a to z or digit");
  if (std::ranges::any_of(b.d.site.windows, [&](const RecurringWindow& other) { return other.id == w.id; }))
    f.error(fmt::format("'{}' gives the same id as another window, '{}'", key, w.id), "use another name");
  w.what = key;
  if (const auto v = s.get("what")) w.what = read_text(*v).value_or(key);
  if (const auto v = s.need("who", "who: Works")) w.who = read_text(*v).value_or("");
  if (const auto v = s.get("systems"))
    for (const Field& one : one_or_more(*v)) {
      const auto text = read_text(one);
      if (!text) continue;
      std::vector<std::string> known;
      for (const System& sys : b.d.site.systems) known.push_back(sys.id);
      if (const auto id = find_system(b.d.site, slug(*text))) w.systems.push_back(*id);
      else one.error(fmt::format("there is no system '{}'", *text), suggest(slug(*text), known));
    }
  if (const auto v = s.need("from", "from: sunday 02:30")) w.from = read_day_time(*v).value_or(w.from);
  if (const auto v = s.need("for", "for: 90 min"))
    if (const auto d = read_duration(*v, minutes(1), hours(24)))
      w.length_minutes = static_cast<int>(std::chrono::duration_cast<std::chrono::minutes>(*d).count());
  b.d.site.windows.push_back(std::move(w));
}

}  // namespace

std::string_view chore_words(ChoreKind kind) { return kChores[static_cast<std::size_t>(kind)].words; }

void read_maintenance(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  if (!f->is_map()) {
    f->error("a map is expected here", "write it like {weekly test: {who: Works, from: sunday 02:30, for: 90 min}}");
    return;
  }
  for (const Entry& e : f->node->entries) read_window(b, f->of(e), e.key);
}

void read_chores(Build& b, const std::optional<Field>& f) {
  std::array<bool, kChores.size()> named{};
  if (f && f->node->kind == Node::Kind::scalar) {
    if (f->node->text == "none") return;
    f->error(fmt::format("'{}' is neither 'none' nor a map", f->node->text),
             "write it like {gauges: {do: gauge comparison, every: 90 d}}");
    return;
  }
  if (f && !f->is_map()) {
    f->error("a map is expected here", "write it like {gauges: {do: gauge comparison, every: 90 d}}");
    return;
  }
  if (f)
    for (const Entry& e : f->node->entries)
      if (const auto kind = read_chore(b, f->of(e))) named[static_cast<std::size_t>(*kind)] = true;
  for (const ChoreRow& row : kChores)
    if (!named[static_cast<std::size_t>(row.kind)])
      add_chores(b.d.site, row, all_places(b.d.site, row), row.every, row.before);
  if (f) check_chores(*f, b.d.site);
}

void read_box(Build& b, const std::optional<Field>& f) {
  if (!f) return;
  Section s(*f, "{well_output: relays 9}");
  const auto at = s.get("well_output");
  if (!at) return;
  const OutputId id = add_output(b, {"box well", OutputKind::box_well, PlaceId{}, {}}, at);
  const Output& o = b.d.site.outputs[id.index];
  if (o.link && !o.device_time_out)
    at->warn("this relay holds when the box dies: its unit has no time-out in this file",
             "give the unit device_time_out_register and device_time_out, as its sheet says");
}

}  // namespace riserkeep
