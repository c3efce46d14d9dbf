#include "rules/tasks/chores.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::array<PlaceKind, 5> kWhere{PlaceKind::system, PlaceKind::analyser, PlaceKind::system, PlaceKind::system, PlaceKind::system};

PlaceKind where(ChoreKind k) { return kWhere[static_cast<std::size_t>(k)]; }

std::string figure(std::string_view label, const std::optional<double>& value, std::string_view unit) {
  return value ? std::string{label} + fixed(*value, 2) + " " + std::string{unit} : std::string{};
}

}  // namespace

std::string_view word(ChoreKind k) {
  static constexpr std::array<std::string_view, 5> kWords{"gauge comparison", "air check", "hand reading", "leak test", "low-point drains"};
  return kWords[static_cast<std::size_t>(k)];
}

std::string_view unit_of(ChoreKind k) {
  static constexpr std::array<std::string_view, 5> kUnits{"psi", "% O2", "% O2", "psi in 24 h", "L"};
  return kUnits[static_cast<std::size_t>(k)];
}

Chores::Chores(const Site& site) {
  for (const Chore& c : site.chores) states_.push_back({c.kind, std::string{place_id(site, c.place)}, {}, {}, {}, {}});
}

void Chores::tick(EngineTime now) {
  for (State& s : states_)
    if (!s.first_seen) s.first_seen = now;
}

void Chores::calendar(std::uint16_t index, EngineTime now) {
  if (index >= states_.size()) return;
  State& s = states_[index];
  if (s.due || (s.done && now - *s.done <= kDoneAhead)) return;
  s.due = now;
}

void Chores::counted(const Site& site, ChoreKind kind, PlaceId place, std::string_view who, EngineTime at) {
  for (State& s : states_) {
    if (s.kind != kind || s.place != place_id(site, place)) continue;
    s.done = at;
    s.due.reset();
    s.by = who;
  }
}

bool Chores::done(const Site& site, const ChoreDone& c, std::string_view who, EngineTime at, Effects& out, std::string& why_not) {
  if (where(c.kind) != c.place.kind) {
    why_not = std::string{word(c.kind)} + (where(c.kind) == PlaceKind::system ? ": that is of a system" : ": that is of an analyser");
    return false;
  }
  if ((c.as_found && !std::isfinite(*c.as_found)) || (c.as_left && !std::isfinite(*c.as_left))) {
    why_not = "as found and as left must be numbers";
    return false;
  }
  counted(site, c.kind, c.place, who, at);
  out.push_back({at, Note{c.place, std::string{word(c.kind)} + " done by " + std::string{who} +
                                       figure("; as found ", c.as_found, unit_of(c.kind)) + figure("; as left ", c.as_left, unit_of(c.kind)) +
                                       (c.remark.empty() ? "" : "; " + c.remark)}});
  return true;
}

std::vector<Chores::Overdue> Chores::overdue(const Site& site, EngineTime now) const {
  std::vector<Overdue> out;
  for (std::size_t i = 0; i < states_.size() && i < site.chores.size(); ++i) {
    const State& s = states_[i];
    const Chore& c = site.chores[i];
    if (!s.first_seen) continue;
    std::optional<EngineTime> since = s.due;
    if (c.every && now - s.done.value_or(*s.first_seen) >= *c.every) {
      const EngineTime by_interval = s.done.value_or(*s.first_seen) + *c.every;
      since = std::min(since.value_or(by_interval), by_interval);
    }
    if (since) out.push_back({static_cast<std::uint16_t>(i), *since, s.done, *s.first_seen, s.by});
  }
  std::ranges::stable_sort(out, {}, &Overdue::since);
  return out;
}

void Chores::keep(Archive& a) {
  if (!a.is_loading()) { a(states_); return; }
  std::vector<State> saved;
  a(saved);
  for (State& s : states_)
    for (const State& old : saved)
      if (old.kind == s.kind && old.place == s.place) s = old;
}

}  // namespace riserkeep
