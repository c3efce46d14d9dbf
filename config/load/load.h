// From the bytes of a site file to its validated description, or to everything that is wrong with it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "config/load/problem.h"
#include "config/site.h"

namespace riserkeep {

// What the description is for. `run` needs every wire and refuses what endangers a person's reaction;
// `check` reports as `run` would, but takes missing wires as warnings; `replay` and `rehearse` need only
// the systems.
enum class Purpose : std::uint8_t { run, replay, check, rehearse };

struct Loaded {
  std::optional<Description> description;  // absent when any problem is not a warning
  std::vector<Problem> problems;           // by line and column
};

// Pure. Never throws, whatever the bytes are.
Loaded load_site(std::string file_name, std::string text, Purpose purpose);
// Reads the file; a missing, unreadable, empty or binary one and a directory are problems as well.
Loaded load_site_file(const std::string& path, Purpose purpose);

}  // namespace riserkeep
