// `riserkeep check SITE.yaml`: everything that is wrong with a site file in one go, then what it means.
#pragma once

#include <cstdio>
#include <optional>
#include <string>

#include "config/load/load.h"
#include "config/site.h"

namespace riserkeep {

// 0 fine (warnings included), 2 errors.
int check_command(const std::string& site_file);

// Loads and writes every problem to `to`. Absent: errors.
std::optional<Description> load_or_explain(const std::string& site_file, Purpose purpose, std::FILE* to);

}  // namespace riserkeep
