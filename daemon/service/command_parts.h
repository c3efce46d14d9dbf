// What the parsers of command bodies share; only for the units of this folder.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep::command {

using Json = nlohmann::json;
using What = decltype(OperatorCommand::what);
using Parse = What (*)(const Site&, const Json&);
struct Row { std::string_view name; Parse parse; };

struct Wrong : std::runtime_error { using std::runtime_error::runtime_error; };  // the body, in words with the cure

std::string text_of(const Json& body, const char* key, std::size_t most, bool compulsory = true);
std::optional<double> number_of(const Json& body, const char* key);
bool flag_of(const Json& body, const char* key, std::optional<bool> fallback = {});
SystemId system_of(const Site&, const Json& body);                // "system": id or name
PlaceId place_of(const Site&, const Json& body);                  // "place": id, or name of a system
std::string ids_of(const Site&, bool analysers);

// people_commands.cpp
What shelve(const Site&, const Json&);
What unshelve(const Site&, const Json&);
What out_of_service(const Site&, const Json&);
What work_start(const Site&, const Json&);
What work_end(const Site&, const Json&);
What chore(const Site&, const Json&);
What repair(const Site&, const Json&);

}  // namespace riserkeep::command
