#include "rules/engine.h"

#include "rules/engine_parts.h"
#include "rules/text.h"
#include "rules/venting/purity.h"

namespace riserkeep {
namespace {

constexpr Duration kTick = seconds(1);
constexpr Duration kEstimates = hours(1);

EngineTime whole_second(EngineTime t) { return EngineTime{std::chrono::floor<seconds>(t.time_since_epoch())}; }
bool due(EngineTime t, Duration every) { return t.time_since_epoch() % every == Duration{}; }

enum SectionId : std::uint32_t {
  kTimeSection = 1, kChannels, kTwins, kAlarms, kRules, kVenting, kLinks,
  kWork, kChores, kStatistics, kNotices, kCalendar, kNames,
};

}  // namespace

Engine::Engine(Site site, RuleSettings settings) : parts_(std::make_unique<Parts>(std::move(site), std::move(settings))) {}
Engine::~Engine() = default;
Engine::Engine(Engine&&) noexcept = default;

void Engine::step(const Stamped& s, Effects& out) {
  Parts& p = *parts_;
  p.heard = out.size();
  if (std::holds_alternative<Elapsed>(s.input) && !p.time.ticked) return;
  if (!std::holds_alternative<Resumed>(s.input)) p.catch_up(s.at, out);
  p.now = std::max(p.now, s.at);
  std::visit([&](const auto& input) { p.take(input, out); }, s.input);
  p.hear(out);
}

std::optional<EngineTime> Engine::next_deadline() const {
  if (!parts_->time.ticked) return std::nullopt;
  return *parts_->time.ticked + kTick;
}

SiteView Engine::view() const { return parts_->view(); }
const Site& Engine::site() const { return parts_->site; }
const std::string& Engine::refusal() const { return parts_->refusal; }
bool Engine::wall_known() const { return parts_->time.wall_known; }
WallTime Engine::wall(EngineTime t) const {
  return WallTime{t.time_since_epoch().count() + parts_->time.wall_minus_engine_ms};
}

void Engine::keep(Archive& a) {
  Parts& p = *parts_;
  a.section(kTimeSection, 1, p.time);
  a.section(kChannels, 1, p.channels);
  a.section(kTwins, 1, p.twins);
  a.section(kAlarms, 2, p.board);
  a.section(kRules, 1, p.judges);
  a.section(kVenting, 1, p.venting);
  a.section(kLinks, 1, p.around);
  a.section(kWork, 1, p.work);
  a.section(kChores, 1, p.chores);
  a.section(kStatistics, 1, p.statistics);
  a.section(kNotices, 1, p.notices);
  a.section(kCalendar, 1, p.calendar);
  SiteIds names = names_of(p.site);
  a.section(kNames, 1, names);
  if (a.is_loading()) p.renumber(names);
  if (a.is_loading() && p.time.ticked) p.now = *p.time.ticked;
}

// The site file may have changed since: state goes with the id. Parts that keep ids themselves fit themselves.
void Engine::Parts::renumber(const SiteIds& saved) {
  const SiteIds present = names_of(site);
  const Renumbering numbers(saved, present);
  channels.rearrange(numbers);
  Renumbering::apply(twins, numbers.of(PlaceKind::system));
  Renumbering::apply(around.links, numbers.of(PlaceKind::link));
  judges.rearrange(numbers);
  board.rearrange(numbers);
  if (saved != present) {
    const auto now_at = [&](PlaceId p) { return numbers.now(p); };
    work.moved(now_at);
    statistics.moved(now_at);
    notices.moved(now_at);
    calendar.forget(CalendarKey::window, site);        // told anew, by their present numbers
  }
  notices.fit(site);
  calendar.fit(site);
}

void Engine::Parts::catch_up(EngineTime at, Effects& out) {
  if (!time.ticked) {
    time.ticked = whole_second(at);
    time.started = now = at;
    return;
  }
  while (*time.ticked + kTick <= at) {
    now = *time.ticked += kTick;
    tick(out);
  }
}

void Engine::Parts::hear(const Effects& out) {
  for (; heard < out.size(); ++heard)
    if (const auto* a = std::get_if<AlarmChanged>(&out[heard].effect)) notices.heard(site, *a, out[heard].at);
}

void Engine::Parts::tick(Effects& out) {
  if (due(now, kEstimates)) estimates(out);
  const std::size_t from = out.size();
  judges.tick(view(), settings, board, now, kTick, out);
  people(from, out);
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId system{static_cast<std::uint16_t>(i)};
    if (board.standing(ClassId::valve_operated, system)) venting.operated(view(), system, out);
  }
  venting.tick(view(), twins, out);
  refills(out);
  hear(out);
  notices.tick(view(), out);
}

// What people work on and are told of; `from`: where the effects of this second's verdicts begin.
void Engine::Parts::people(std::size_t from, Effects& out) {
  work.tick(view(), out);
  air_in(out);
  board.rest(site, now, work.quiet(), out);
  chores.tick(now);
  for (std::size_t i = from; i < out.size(); ++i)
    if (const auto* a = std::get_if<AlarmChanged>(&out[i].effect); a && a->change == AlarmChange::raised)
      statistics.raised({a->alarm, a->place}, now, !board.rests(a->alarm, a->place));
  statistics.tick(now);
}

void Engine::Parts::air_in(Effects& out) {
  for (const SystemId s : work.take_aired()) venting.air_entered(view(), s, "work let air in", out);
}

void Engine::Parts::estimates(Effects& out) {
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId system{static_cast<std::uint16_t>(i)};
    twins[i].renew_leak(site, system, now);
    out.push_back({now, LeakEstimate{system, twins[i].leak()}});
    if (site.systems[i].purity) out.push_back({now, PurityEstimate{system, purity_result(view(), system)}});
  }
}

void Engine::Parts::refills(Effects& out) {
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const auto refill = twins[i].refills().take_finished();
    if (!refill) continue;
    const Duration took = refill->ended.value_or(now) - refill->began;
    out.push_back({now, RefillSeen{SystemId{static_cast<std::uint16_t>(i)}, refill->began, took,
                                   refill->to - refill->from, refill->cause}});
  }
}

void Engine::Parts::take(const Reading& r, Effects& out) {
  if (r.channel.index >= site.channels.size()) return;
  channels.take(r);
  const PlaceId place = site[r.channel].place;
  if (place.kind == PlaceKind::system) twins[place.index].reading(site, SystemId{place.index}, channels, r);
  venting.reading(view(), twins, r, out);
}

void Engine::Parts::take(const CalendarTurned& c, Effects& out) {
  calendar.take(site, c, now);
  notices.turned(view(), c, out);
  if (c.key == CalendarKey::chore_due && c.begins) chores.calendar(c.index, now);
  if (c.key != CalendarKey::window) return;
  work.calendar(view(), c.index, c.begins, out);
  air_in(out);
}

void Engine::Parts::take(const LinkChanged& c, Effects&) {
  if (c.link.index >= around.links.size()) return;
  LinkState& link = around.links[c.link.index];
  if (!link.known || link.up != c.up) link = {true, c.up, now};
}

void Engine::Parts::take(const OutputObserved& o, Effects& out) {
  if (o.output.index >= site.outputs.size()) return;
  venting.output_observed(view(), twins, o, out);
}

void Engine::Parts::take(const BoxHealth& h, Effects&) {
  BoxState& part = around.box[static_cast<std::size_t>(h.part)];
  if (part.well != h.well) part = {h.well, now, h.why};
}

void Engine::Parts::take(const WallMapped& w, Effects& out) {
  const auto step = w.wall_minus_engine_ms - time.wall_minus_engine_ms;
  if (time.wall_known && (step > 2000 || step < -2000))
    out.push_back({now, Note{PlaceId{}, "clock moved by " + fixed(static_cast<double>(step) / 1000.0, 1) + " s"}});
  time.wall_minus_engine_ms = w.wall_minus_engine_ms;
  time.wall_known = true;
}

void Engine::Parts::take(const Resumed& r, Effects& out) {
  const Duration stopped = time.ticked ? now - *time.ticked : Duration{};
  time.ticked = whole_second(now);
  time.started = now;
  for (Twin& t : twins) t.resumed(now);
  for (LinkState& l : around.links) l = LinkState{};
  venting.resumed(view(), out);
  out.push_back({now, Note{PlaceId{}, r.gap_known ? "started" : "started after a stop of unknown length"}});
  notices.resumed(view(), r.gap_known ? std::optional{stopped} : std::nullopt, out);
}

}  // namespace riserkeep
