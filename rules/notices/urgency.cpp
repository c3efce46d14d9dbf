#include "rules/notices/urgency.h"

namespace riserkeep {
namespace {

// High, yet the pipe keeps its air and nobody is in danger meanwhile.
constexpr ClassSet kCanWait = ClassSet::of(ClassId::supply_purity_low, ClassId::supply_is_air, ClassId::vent_blocked,
                                           ClassId::refill_frequent);

}  // namespace

bool calls_now(ClassId c, Priority p) {
  if (p == Priority::critical) return true;
  return p == Priority::high && !kCanWait.has(c);
}

}  // namespace riserkeep
