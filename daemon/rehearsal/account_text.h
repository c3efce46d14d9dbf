// The account in words, 80 columns.
#pragma once

#include <string>
#include <vector>

#include "daemon/rehearsal/account.h"
#include "daemon/rehearsal/rehearsal.h"

namespace riserkeep {

std::string account_text(const Site&, const Scenario&, Rehearsal&, const Account&, const std::vector<std::string>& remarks);

}  // namespace riserkeep
