// `status` on a terminal: what needs you first, then every system in the order of the site file.
#pragma once

#include <string>
#include <string_view>

#include "daemon/render/style.h"

namespace riserkeep {

// `json`: as status_json() wrote it. Throws std::runtime_error when it is not.
std::string render_status(std::string_view json, const Style&);

// 26 columns from 0 to `top` psi: T trip, l low air, [ ] band, * now.
struct LadderMarks { double band_low, band_high, low_air; bool has_trip; double trip; bool has_now; double now; };
std::string ladder_text(const LadderMarks&, double top);

}  // namespace riserkeep
