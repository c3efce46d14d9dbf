// maintenance:, chores:, box: - what people do at set times, and the box's own relay.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "config/load/build.h"

namespace riserkeep {

void read_maintenance(Build&, const std::optional<Field>&);
// Kinds that the file does not name have their defaults; `chores: none` means none at all.
void read_chores(Build&, const std::optional<Field>&);
void read_box(Build&, const std::optional<Field>&);

std::string_view chore_words(ChoreKind);  // "gauge comparison"

}  // namespace riserkeep
