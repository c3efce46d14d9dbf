#include "rules/notices/audience.h"

#include <algorithm>

#include "rules/notices/people.h"
#include "rules/notices/urgency.h"

namespace riserkeep {
namespace {

template <class Wanted>
std::vector<PersonId> those(const Site& site, Wanted wanted) {
  std::vector<PersonId> out;
  for (std::uint16_t i = 0; i < site.people.size(); ++i)
    if (wanted(site.people[i])) out.push_back(PersonId{i});
  return out;
}

bool hears(const Site& site, const Person& p, const Topic& t) {
  if (p.calls_now && !urgent(t)) return false;
  return std::ranges::any_of(t.members, [&](const Member& m) { return concerns(site, p, m.place); });
}

bool same_letters(std::string_view a, std::string_view b) {
  const auto low = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  return std::ranges::equal(a, b, {}, low, low);
}

}  // namespace

bool urgent(const Topic& t) {
  return std::ranges::any_of(t.members, [](const Member& m) { return calls_now(m.alarm, m.priority); });
}

std::vector<PersonId> told_at_once(const Site& site, const Topic& t) {
  return those(site, [&](const Person& p) { return p.after <= Duration{} && hears(site, p, t); });
}

std::vector<PersonId> told_later(const Site& site, const Topic& t, Duration from, Duration until) {
  return those(site, [&](const Person& p) { return p.after > from && p.after <= until && hears(site, p, t); });
}

std::vector<PersonId> for_everyday(const Site& site) {
  auto out = those(site, [](const Person& p) { return !p.calls_now; });
  return out.empty() ? those(site, [](const Person&) { return true; }) : out;
}

std::vector<PersonId> owner_or_concerned(const Site& site, std::string_view owner, PlaceId place) {
  auto out = those(site, [&](const Person& p) { return same_letters(p.id, owner); });
  return out.empty() ? those(site, [&](const Person& p) { return concerns(site, p, place); }) : out;
}

}  // namespace riserkeep
