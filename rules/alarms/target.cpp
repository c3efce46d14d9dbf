#include "rules/alarms/target.h"

#include "rules/judge/judge_all.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

void add_name(std::string& to, std::string_view name) { (to += to.empty() ? "" : ", ") += name; }

std::string classes_at(PlaceKind kind) {
  std::string out;
  for (std::size_t i = 0; i < kClassCount; ++i)
    if (const auto c = static_cast<ClassId>(i); judged_at(c, kind)) add_name(out, word(c));
  return out;
}

std::string places_of(const Site& site) {
  std::string out;
  const auto add = [&](const auto& list) { for (const auto& item : list) add_name(out, item.id); };
  add(site.systems);
  add(site.supplies);
  add(site.analysers);
  add(site.rooms);
  add(site.links);
  add_name(out, "box");
  return out;
}

std::optional<ClassId> find_class(std::string_view name) {
  for (std::size_t i = 0; i < kClassCount; ++i)
    if (word(static_cast<ClassId>(i)) == name) return static_cast<ClassId>(i);
  return std::nullopt;
}

std::optional<PlaceId> named_place(const Site& site, std::string_view name) {
  if (const auto system = find_system(site, name)) return PlaceId{*system};
  return find_place(site, name);
}

}  // namespace

std::optional<AlarmTargetPoint> find_target(const Site& site, const AlarmBoard& board, std::string_view text, std::string& why_not) {
  if (const auto reference = parse_reference(text))
    for (const auto& item : board.open())
      if (reference_of(item.life->id()) == *reference) return AlarmTargetPoint{item.alarm, item.place};
  const auto at = text.find('@');
  const std::string_view name = at == std::string_view::npos ? text : text.substr(at + 1);
  const auto place = named_place(site, name);
  if (!place) {
    why_not = "\"" + std::string{name} + "\" is neither an open alarm's reference nor a place; places: " + places_of(site);
    return std::nullopt;
  }
  if (at == std::string_view::npos) return AlarmTargetPoint{std::nullopt, *place};
  const auto c = find_class(text.substr(0, at));
  if (c && judged_at(*c, place->kind)) return AlarmTargetPoint{*c, *place};
  why_not = "there is no alarm \"" + std::string{text.substr(0, at)} + "\" at " + std::string{place_id(site, *place)} +
            "; there are: " + classes_at(place->kind);
  return std::nullopt;
}

std::string target_text(const Site& site, const AlarmTargetPoint& t) {
  const std::string place{place_id(site, t.place)};
  return t.alarm ? std::string{word(*t.alarm)} + "@" + place : place;
}

}  // namespace riserkeep
