// `why SYSTEM` on a terminal: one sentence, then every condition with what is and what it needs.
#pragma once

#include <string>
#include <string_view>

#include "daemon/render/style.h"

namespace riserkeep {

// `json`: as why_json() wrote it. Throws std::runtime_error when it is not.
std::string render_why(std::string_view json, const Style&);

}  // namespace riserkeep
