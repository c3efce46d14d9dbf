// The purity of a system as it may be shown: never without place, method, time and grade.
#pragma once

#include "rules/effect.h"
#include "rules/view.h"

namespace riserkeep {

// The newest measured value; by hand and after rest win over flowing when newer.
PurityResult purity_result(const SiteView&, SystemId);

}  // namespace riserkeep
