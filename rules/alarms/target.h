// What a person means by "7K6", "leak@roof-void" or "roof-void".
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rules/alarms/board.h"

namespace riserkeep {

// A reference of an open alarm, else a class at a place, else a whole place (id, or name of a system). Absent:
// `why_not` says what there is instead.
std::optional<AlarmTargetPoint> find_target(const Site&, const AlarmBoard&, std::string_view text, std::string& why_not);

std::string target_text(const Site&, const AlarmTargetPoint&);   // "leak@roof-void", "roof-void"

}  // namespace riserkeep
