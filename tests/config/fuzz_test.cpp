// Whatever bytes a site file has, loading ends, in bounded time, with a description or with problems.
#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <random>
#include <string>

#include "config/load/load.h"
#include "config/report.h"

using namespace riserkeep;

namespace {

std::string read_example(const std::string& name) {
  std::ifstream in(RISERKEEP_SOURCE_DIR "/config/examples/" + name, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// Cuts, doubles, swaps or overwrites a few places; often with what YAML takes special.
std::string mutated(std::string text, std::mt19937& random) {
  static const std::string special[] = {"{",
                                        "}",
                                        "[",
                                        "]",
                                        ":",
                                        ": ",
                                        ",",
                                        "\n",
                                        "  ",
                                        "\t",
                                        "*a",
                                        "&a ",
                                        "!",
                                        "|\n",
                                        ">",
                                        "#",
                                        "---\n",
                                        "...",
                                        "\"",
                                        "'",
                                        "%",
                                        "@",
                                        "0x1F",
                                        "-1",
                                        "1e999",
                                        ".nan",
                                        "99999999999999999999",
                                        "unknown",
                                        "~",
                                        "?",
                                        "\r\n",
                                        "\xEF\xBB\xBF",
                                        "\x01",
                                        "\xC3\x28"};
  const auto below = [&](std::size_t n) {
    return std::uniform_int_distribution<std::size_t>(0, n == 0 ? 0 : n - 1)(random);
  };
  const std::size_t edits = 1 + below(4);
  for (std::size_t i = 0; i < edits; ++i) {
    const std::size_t at = below(text.size());
    const std::size_t length = 1 + below(24);
    switch (below(6)) {
      case 0:
        text.erase(at, length);
        break;
      case 1:
        text.insert(at, special[below(std::size(special))]);
        break;
      case 2:
        text.insert(at, text.substr(below(text.size()), length));
        break;
      case 3:
        text.resize(at);
        break;
      case 4:
        if (!text.empty()) text[at] = static_cast<char>(below(256));
        break;
      default:
        text.replace(at, std::min(length, text.size() - at), special[below(std::size(special))]);
    }
    if (text.empty()) text = "x";
  }
  return text;
}

}  // namespace

TEST_CASE("mutated site files never break the loader") {
  const char* given = std::getenv("RISERKEEP_SEED");
  const unsigned seed = given ? static_cast<unsigned>(std::strtoul(given, nullptr, 10)) : std::random_device{}();
  MESSAGE("seed " << seed << " (RISERKEEP_SEED repeats it)");
  std::mt19937 random(seed);
  const std::string sources[] = {read_example("quillmere.yaml"), read_example("demo.yaml"),
                                 read_example("minimal.yaml")};
  const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(6);
  int loaded_count = 0, refused = 0;
  for (int i = 0; i < 4000 && std::chrono::steady_clock::now() < until; ++i) {
    const std::string text = mutated(sources[static_cast<std::size_t>(i) % std::size(sources)], random);
    const Loaded loaded = load_site("f.yaml", text, static_cast<Purpose>(i % 4));
    if (loaded.description) {
      ++loaded_count;
      const bool reported = !check_report(*loaded.description).empty();
      if (!reported) CHECK(reported);
    } else {
      ++refused;
      const bool told =
          std::any_of(loaded.problems.begin(), loaded.problems.end(), [](const Problem& p) { return !p.warning; });
      if (!told) CHECK_MESSAGE(told, text);
    }
    for (const Problem& p : loaded.problems) {
      const std::string line = format_problem(p);
      if (line.find('\n') != std::string::npos) CHECK_MESSAGE(false, line);
    }
  }
  CHECK(loaded_count + refused > 100);
  CHECK(refused > 0);
}

TEST_CASE("deep, wide and endless texts end soon") {
  const auto began = std::chrono::steady_clock::now();
  CHECK_FALSE(load_site("f.yaml", std::string(100000, '['), Purpose::check).description);
  CHECK_FALSE(load_site("f.yaml", std::string(100000, '{'), Purpose::check).description);
  std::string wide = "format: 1\n";
  for (int i = 0; i < 60000; ++i) wide += "k" + std::to_string(i) + ": 1\n";
  CHECK_FALSE(load_site("f.yaml", wide, Purpose::check).description);
  CHECK_FALSE(load_site("f.yaml", "format: 1\n\"" + std::string(900000, 'a'), Purpose::check).description);
  std::string nested = "format: 1\n";
  for (int i = 0; i < 300; ++i) nested += std::string(static_cast<std::size_t>(i), ' ') + "a:\n";
  CHECK_FALSE(load_site("f.yaml", nested, Purpose::check).description);
  CHECK(std::chrono::steady_clock::now() - began < std::chrono::seconds(20));
}
