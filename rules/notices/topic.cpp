#include "rules/notices/topic.h"

#include <algorithm>

namespace riserkeep {

Priority Topic::priority() const {
  return members.empty() ? Priority::low : std::ranges::max(members, {}, &Member::priority).priority;
}

bool Topic::unacknowledged() const {
  return std::ranges::any_of(members, [](const Member& m) { return m.standing() && !m.acknowledged && !m.child; });
}

EngineTime Topic::began() const {
  return members.empty() ? opened : std::ranges::min(members, {}, &Member::since).since;
}

}  // namespace riserkeep
