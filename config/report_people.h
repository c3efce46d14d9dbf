// The part of `check` about people: who is told what, when, what is done at set times and what is due.
#pragma once

#include <string>

#include "rules/site.h"

namespace riserkeep {

std::string people_report(const Site&);  // empty when there is nothing to say

}  // namespace riserkeep
