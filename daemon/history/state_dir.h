// The state directory itself.
#pragma once

#include <filesystem>

namespace riserkeep {

// Makes it if need be (0750). Throws std::runtime_error with where, what and the cure when it cannot be
// written; a full disk is no reason.
void make_writable(const std::filesystem::path& dir);

}  // namespace riserkeep
