// Every rule, in the order they are judged. A new rule adds its files and one line here.
#pragma once

#include <tuple>

namespace riserkeep {

using AllRules = std::tuple<>;

}  // namespace riserkeep
