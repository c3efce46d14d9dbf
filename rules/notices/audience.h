// Who of the site is to hear of something.
#pragma once

#include <string_view>
#include <vector>

#include "rules/notices/topic.h"
#include "rules/site.h"

namespace riserkeep {

bool urgent(const Topic&);                           // a member calls now

// Those told when it is raised: concerned, not only for what calls now (unless it does), not later by `after`.
std::vector<PersonId> told_at_once(const Site&, const Topic&);
// Those told once it has stood unacknowledged for `after`, of which from < after <= until.
std::vector<PersonId> told_later(const Site&, const Topic&, Duration from, Duration until);

std::vector<PersonId> for_everyday(const Site&);     // whoever wants all; if nobody does, everyone
std::vector<PersonId> owner_or_concerned(const Site&, std::string_view owner, PlaceId);

}  // namespace riserkeep
