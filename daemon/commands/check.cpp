#include "daemon/commands/check.h"

#include <fmt/format.h>

#include <utility>

#include "config/report.h"
#include "daemon/commands/exit_codes.h"

namespace riserkeep {

std::optional<Description> load_or_explain(const std::string& site_file, Purpose purpose, std::FILE* to) {
  Loaded loaded = load_site_file(site_file, purpose);
  std::size_t errors = 0;
  for (const auto& problem : loaded.problems) {
    fmt::print(to, "{}\n", format_problem(problem));
    if (!problem.warning) ++errors;
  }
  if (!loaded.description)
    fmt::print(to, "{}: {} error{}, nothing was started.\n", site_file, errors, errors == 1 ? "" : "s");
  return std::move(loaded.description);
}

int check_command(const std::string& site_file) {
  const auto description = load_or_explain(site_file, Purpose::check, stderr);
  if (!description) return kUsage;
  const std::string report = check_report(*description);
  std::fwrite(report.data(), 1, report.size(), stdout);
  return kDone;
}

}  // namespace riserkeep
