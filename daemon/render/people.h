// `status`: what rests, who works where, what nobody looked at. Only for units of this folder.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/render/parts.h"

namespace riserkeep::render {

std::string people_lines(const Json& status, const std::string& zone);
std::string rest_text(const Json& alarm, const std::string& zone);   // "" when people are told of it
std::size_t resting(const Json& alarms);

}  // namespace riserkeep::render
