// `export telemetry|inputs|events`: the record as text, also while the daemon runs.
#pragma once

#include <cstdio>
#include <filesystem>

namespace riserkeep {

// 0 done, 1 it failed; the reason goes to `err`. The databases are only read, in short transactions.
int export_telemetry(const std::filesystem::path& state_dir, std::FILE* out, std::FILE* err);
int export_inputs(const std::filesystem::path& state_dir, std::FILE* out, std::FILE* err);
int export_events(const std::filesystem::path& state_dir, std::FILE* out, std::FILE* err);

}  // namespace riserkeep
