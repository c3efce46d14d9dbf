#include "rules/judge/judge_all.h"

#include <algorithm>
#include <array>
#include <utility>

namespace riserkeep {
namespace {

constexpr std::uint16_t kMostPlaces = 4000;  // of one site file

template <std::size_t... I>
std::array<Verdict, sizeof...(I)> untold(std::index_sequence<I...>) { return {((void)I, Verdict{CannotTell{}})...}; }

const AllParams& params_for(const RuleSettings& settings, Scope scope, std::uint16_t index) {
  if (scope != Scope::system || settings.systems.empty()) return settings.everywhere;
  const auto own = settings.systems.find(SystemId{index});
  return own == settings.systems.end() ? settings.everywhere : own->second;
}

template <std::size_t I, class States>
void judge_one(const SiteView& view, const RuleSettings& settings, States& all, AlarmBoard& board, EngineTime at,
               Duration observed, Effects& out) {
  using R = std::tuple_element_t<I, AllRules>;
  static_assert(Rule<R>);
  constexpr std::size_t kVerdicts = R::info.classes.size();
  auto& states = std::get<I>(all);
  const std::size_t count = places(view.site, R::info.scope);
  if (states.size() != count) states.resize(count);  // a restored state of another site file
  for (std::size_t i = 0; i < count; ++i) {
    const auto index = static_cast<std::uint16_t>(i);
    const PlaceId place{kind_of(R::info.scope), index};
    std::array<Verdict, kVerdicts> verdicts = untold(std::make_index_sequence<kVerdicts>{});
    R::judge(view, place, std::get<I>(params_for(settings, R::info.scope, index)), states[i],
             std::span<Verdict>{verdicts});
    for (std::size_t c = 0; c < kVerdicts; ++c)
      board.judge(view.site, R::info.classes[c], place, verdicts[c], at, observed, out);
  }
}

}  // namespace

std::size_t places(const Site& site, Scope scope) {
  switch (scope) {
    case Scope::system: return site.systems.size();
    case Scope::supply: return site.supplies.size();
    case Scope::room: return site.rooms.size();
    case Scope::link: return site.links.size();
    case Scope::analyser: return site.analysers.size();
    case Scope::box: return 1;
  }
  return 0;
}

PlaceKind kind_of(Scope scope) {
  switch (scope) {
    case Scope::system: return PlaceKind::system;
    case Scope::supply: return PlaceKind::supply;
    case Scope::room: return PlaceKind::room;
    case Scope::link: return PlaceKind::link;
    case Scope::analyser: return PlaceKind::analyser;
    case Scope::box: return PlaceKind::box;
  }
  return PlaceKind::box;
}

bool judged_at(ClassId c, PlaceKind kind) {
  return [&]<std::size_t... I>(std::index_sequence<I...>) {
    const auto one = [&](const RuleInfo& info) {
      return kind_of(info.scope) == kind && std::find(info.classes.begin(), info.classes.end(), c) != info.classes.end();
    };
    return (one(std::tuple_element_t<I, AllRules>::info) || ...);
  }(std::make_index_sequence<std::tuple_size_v<AllRules>>{});
}

Judges::Judges(const Site& site) {
  [&]<std::size_t... I>(std::index_sequence<I...>) {
    (std::get<I>(states_).resize(places(site, std::tuple_element_t<I, AllRules>::info.scope)), ...);
  }(std::make_index_sequence<std::tuple_size_v<AllRules>>{});
}

void Judges::tick(const SiteView& view, const RuleSettings& settings, AlarmBoard& board, EngineTime at, Duration observed, Effects& out) {
  [&]<std::size_t... I>(std::index_sequence<I...>) {
    (judge_one<I>(view, settings, states_, board, at, observed, out), ...);
  }(std::make_index_sequence<std::tuple_size_v<AllRules>>{});
}

void Judges::rearrange(const Renumbering& numbers) {
  [&]<std::size_t... I>(std::index_sequence<I...>) {
    (Renumbering::apply(std::get<I>(states_), numbers.of(kind_of(std::tuple_element_t<I, AllRules>::info.scope))), ...);
  }(std::make_index_sequence<std::tuple_size_v<AllRules>>{});
}

// By hand: states without a byte of their own must not look like a damaged count.
void Judges::keep(Archive& a) {
  std::apply([&](auto&... states) {
    const auto each = [&](auto& list) {
      auto count = static_cast<std::uint16_t>(list.size());
      a(count);
      if (a.is_loading()) {
        if (count > kMostPlaces) return a.fail();
        list.assign(count, {});
      }
      for (auto& s : list) s.keep(a);
    };
    (each(states), ...);
  }, states_);
}

}  // namespace riserkeep
