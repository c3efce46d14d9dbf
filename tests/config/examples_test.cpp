#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include "config/load/load.h"

using namespace riserkeep;

namespace {
std::vector<std::string> examples() {
  std::vector<std::string> out;
  for (const auto& e : std::filesystem::directory_iterator(RISERKEEP_SOURCE_DIR "/config/examples"))
    if (e.path().extension() == ".yaml") out.push_back(e.path().string());
  std::sort(out.begin(), out.end());
  return out;
}
}  // namespace

TEST_CASE("every example loads for every purpose") {
  REQUIRE(!examples().empty());
  for (const std::string& path : examples())
    for (const Purpose purpose : {Purpose::run, Purpose::check, Purpose::replay, Purpose::rehearse}) {
      const Loaded loaded = load_site_file(path, purpose);
      for (const Problem& p : loaded.problems) {
        INFO(format_problem(p));
        CHECK(p.warning);
        CHECK_FALSE(purpose == Purpose::run);
      }
      CHECK(loaded.description.has_value());
    }
}
