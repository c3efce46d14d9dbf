// What is wrong with a site file, in words a fitter can act on: where, what, how to mend.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace riserkeep {

struct Problem {
  std::string file;
  int line = 0, column = 0;  // 1-based; 0 = the file as a whole
  std::string path;          // "systems.Loading dock.air.cut_in"
  std::string what, cure;
  bool warning = false;  // the site loads all the same
};

// `site.yaml:41:7: systems.Loading dock.air.cut_in: '35' has no unit. Mend: write '35 psi'.`
std::string format_problem(const Problem&);

struct Mark {
  int line = 0, column = 0;
};

// Collects everything that is wrong, so that one look mends it all.
class Problems {
 public:
  explicit Problems(std::string file) : file_(std::move(file)) {}
  void error(Mark at, std::string path, std::string what, std::string cure) {
    add(at, std::move(path), std::move(what), std::move(cure), false);
  }
  void warn(Mark at, std::string path, std::string what, std::string cure) {
    add(at, std::move(path), std::move(what), std::move(cure), true);
  }
  bool any_error() const { return errors_ > 0; }
  std::size_t errors() const { return errors_; }
  std::vector<Problem> sorted() &&;  // by line and column; at most kMost, then one that says how many were left out

  static constexpr std::size_t kMost = 100;

 private:
  void add(Mark at, std::string path, std::string what, std::string cure, bool warning);
  std::string file_;
  std::vector<Problem> list_;
  std::size_t errors_ = 0;
};

}  // namespace riserkeep
