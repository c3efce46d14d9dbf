#include "rules/archive.h"

#include <doctest/doctest.h>

using namespace riserkeep;

namespace {
struct Part {
  int n = 0;
  std::string text;
  std::map<int, std::optional<double>> numbers;
  std::variant<int, std::string> either;
  void keep(Archive& a) { a(n, text, numbers, either); }
};
}  // namespace

TEST_CASE("archive: what was saved is loaded, part by part") {
  Part one{7, "seven", {{1, 1.5}, {2, std::nullopt}}, std::string{"x"}};
  Part two{8, "eight", {}, 3};
  Archive out = Archive::saving();
  out.section(1, 1, one);
  out.section(2, 1, two);
  std::string bytes = std::move(out).take();

  Part got;
  Archive in = Archive::loading(bytes);
  CHECK(in.section(2, 1, got));
  CHECK(got.text == "eight");
  CHECK(in.section(1, 1, got));
  CHECK(got.numbers.at(1) == 1.5);
  CHECK(std::get<std::string>(got.either) == "x");
  CHECK_FALSE(in.section(1, 2, got));

  SUBCASE("a flipped byte spoils its own section only") {
    bytes[20] = static_cast<char>(bytes[20] ^ 1);
    Archive damaged = Archive::loading(bytes);
    Part untouched{1, "as built", {}, 0};
    CHECK_FALSE(damaged.section(1, 1, untouched));
    CHECK(untouched.text == "as built");
    CHECK(damaged.section(2, 1, untouched));
  }
  SUBCASE("any truncation loads or refuses, never crashes") {
    for (std::size_t cut = 0; cut < bytes.size(); ++cut) {
      Archive shorter = Archive::loading(bytes.substr(0, cut));
      Part p;
      CHECK_FALSE(shorter.section(2, 1, p));
    }
  }
}
