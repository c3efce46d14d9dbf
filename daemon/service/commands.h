// Operator commands as they arrive: one table of names and the JSON body each of them takes.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

// Names: ack, release, mode ...; those of people_commands.cpp are about alarms that rest, and work.
std::vector<std::string_view> command_names();

// Says so, and which systems there are.
std::string no_such_system(const Site&, std::string_view name);

// `body`: a JSON object, always with "by". The text says what is wrong and how to mend it.
std::variant<OperatorCommand, std::string> parse_command(const Site&, std::string_view name, std::string_view body);

}  // namespace riserkeep
