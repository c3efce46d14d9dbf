// Every file in bad/ says in its head what is expected of it, one line a problem:
//   # expect: PATH | part of what is wrong | part of the cure
// Files named warn-* load all the same. No other problem may turn up.
#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "config/load/load.h"

using namespace riserkeep;

namespace {

struct Expected {
  std::string path, what, cure;
};

std::string read_all(const std::filesystem::path& p) {
  std::ifstream in(p, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

std::string part(std::string& rest) {
  const auto bar = rest.find(" | ");
  std::string out = rest.substr(0, bar);
  rest = bar == std::string::npos ? "" : rest.substr(bar + 3);
  return out;
}

std::vector<Expected> expected_of(const std::string& text) {
  std::vector<Expected> out;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    const std::string mark = "# expect: ";
    if (line.rfind(mark, 0) != 0) continue;
    std::string rest = line.substr(mark.size());
    Expected e;
    if (rest.rfind("| ", 0) == 0) rest = " " + rest;  // no path
    e.path = part(rest);
    e.what = part(rest);
    e.cure = part(rest);
    while (!e.path.empty() && e.path.back() == ' ') e.path.pop_back();
    out.push_back(e);
  }
  return out;
}

Purpose purpose_of(const std::string& text) {
  for (const auto& [word, purpose] : std::map<std::string, Purpose>{{"run", Purpose::run},
                                                                    {"check", Purpose::check},
                                                                    {"replay", Purpose::replay},
                                                                    {"rehearse", Purpose::rehearse}})
    if (text.rfind("# purpose: " + word + "\n", 0) == 0) return purpose;
  FAIL("no purpose");
  return Purpose::run;
}

std::string all(const std::vector<Problem>& problems) {
  std::string out;
  for (const Problem& p : problems) out += format_problem(p) + "\n";
  return out;
}

}  // namespace

TEST_CASE("bad files get their messages, all in one go and no others") {
  std::vector<std::filesystem::path> files;
  for (const auto& e : std::filesystem::directory_iterator(RISERKEEP_SOURCE_DIR "/tests/config/bad"))
    files.push_back(e.path());
  std::sort(files.begin(), files.end());
  REQUIRE(files.size() > 50);
  for (const auto& path : files) {
    const std::string text = read_all(path);
    const auto expected = expected_of(text);
    REQUIRE(!expected.empty());
    const Loaded loaded = load_site(path.filename().string(), text, purpose_of(text));
    INFO(path.filename().string() << "\n" << all(loaded.problems));
    CHECK(loaded.problems.size() == expected.size());
    for (const Expected& e : expected) {
      const bool found = std::any_of(loaded.problems.begin(), loaded.problems.end(), [&](const Problem& p) {
        return p.path == e.path && p.what.find(e.what) != std::string::npos && p.cure.find(e.cure) != std::string::npos;
      });
      CHECK_MESSAGE(found, "expected: " << e.path << " | " << e.what << " | " << e.cure);
    }
    const bool warns = path.filename().string().rfind("warn-", 0) == 0;
    CHECK(loaded.description.has_value() == (warns || std::all_of(loaded.problems.begin(), loaded.problems.end(),
                                                                  [](const Problem& p) { return p.warning; })));
    CHECK(warns == loaded.description.has_value());
  }
}
