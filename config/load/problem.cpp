#include "config/load/problem.h"

#include <algorithm>

#include <fmt/format.h>

namespace riserkeep {

namespace {
// One problem is one line, whatever bytes the file had.
std::string one_line(std::string_view text) {
  std::string out;
  for (const char c : text) out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  return out;
}
}  // namespace

std::string format_problem(const Problem& p) {
  std::string out = one_line(p.file);
  if (p.line > 0) out += fmt::format(":{}:{}", p.line, p.column);
  out += p.warning ? ": warning: " : ": ";
  if (!p.path.empty()) out += one_line(p.path) + ": ";
  out += one_line(p.what) + ".";
  if (!p.cure.empty()) out += " Mend: " + one_line(p.cure) + (p.cure.back() == '?' ? "" : ".");
  return out;
}

void Problems::add(Mark at, std::string path, std::string what, std::string cure, bool warning) {
  if (!warning) ++errors_;
  list_.push_back({file_, at.line, at.column, std::move(path), std::move(what), std::move(cure), warning});
}

std::vector<Problem> Problems::sorted() && {
  std::stable_sort(list_.begin(), list_.end(), [](const Problem& a, const Problem& b) {
    return a.line != b.line ? a.line < b.line : a.column < b.column;
  });
  if (list_.size() > kMost) {
    // Errors first when not all fit: a flood of warnings must not hide one.
    std::stable_partition(list_.begin(), list_.end(), [](const Problem& p) { return !p.warning; });
    const std::size_t left_out = list_.size() - kMost;
    list_.resize(kMost);
    list_.push_back(
        {file_, 0, 0, "", fmt::format("{} more problems are not shown", left_out), "mend these first", errors_ == 0});
  }
  return std::move(list_);
}

}  // namespace riserkeep
