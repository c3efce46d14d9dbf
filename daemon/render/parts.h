// Small pieces that status and why share; carries the JSON library, so only for units of this folder.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "daemon/render/style.h"

namespace riserkeep::render {

using Json = nlohmann::ordered_json;

Json parsed(std::string_view json);
std::string text(const Json& object, const char* key);              // "" when absent or no text
bool has(const Json& object, const char* key);                      // there, and not null
double number(const Json& object, const char* key);
std::string fixed_of(const Json& object, const char* key, int decimals);
std::string span_text(const Json& seconds);                         // "26 min"
std::string clock_of(const Json& time, const std::string& zone);    // "04:12", with the day when it is not today's
std::string title(std::string_view left, const Json& document);     // left and the local time right
std::string purity_text(const Json& system);                        // "98.2 % rested 1 d"
std::string alarm_text_of(const Json& alarm, const std::string& zone, std::string_view now);
std::string messages_text(const Json& messages, const std::string& zone);   // empty when there is nothing to say
std::string coloured(const Style&, std::string_view priority, std::string_view text);

}  // namespace riserkeep::render
