#include "daemon/commands/demo.h"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>

#include "config/load/load.h"
#include "daemon/commands/demo_live.h"
#include "daemon/formats/local_time.h"
#include "daemon/rehearsal/account.h"
#include "daemon/rehearsal/account_text.h"
#include "daemon/rehearsal/commissioning.h"
#include "daemon/rehearsal/rehearsal.h"
#include "rules/text.h"

namespace riserkeep {

extern const char* const demo_site_text;

namespace {

constexpr WallTime kMondayMorning{1793602800000};  // Mon 2 Nov 2026 07:00 in Chicago
constexpr const char* kFitter = "R. Fitter";

class Progress {
 public:
  explicit Progress(int hours) : hours_(hours), shown_(isatty(STDERR_FILENO) != 0) {}
  ~Progress() { if (shown_) std::fputs("\r\x1b[K", stderr); }
  void at(int hour) const {
    if (!shown_) return;
    const auto filled = static_cast<std::size_t>(40 * hour / hours_);
    fmt::print(stderr, "\r[{}{}] day {:2} of {}", std::string(filled, '='), std::string(40 - filled, ' '), hour / 24 + 1, hours_ / 24);
    std::fflush(stderr);
  }

 private:
  int hours_;
  bool shown_;
};

int rehearse(const DemoOptions& options) {
  Loaded loaded = load_site("demo.yaml", demo_site_text, Purpose::rehearse);
  if (!loaded.description) {
    for (const Problem& p : loaded.problems) fmt::print(stderr, "{}\n", format_problem(p));
    return 2;
  }
  const Description& site = *loaded.description;
  Scenario scenario = demo_scenario(site.site);
  scenario.seed = options.seed;
  Rehearsal rehearsal(site, scenario, EngineTime{hours(1)}, kMondayMorning);
  Account account(rehearsal.engine().site());
  std::vector<std::string> remarks;
  rehearsal.watch([&](const Timed& t) { account.take(t); });
  {
    const Progress progress(options.days * 24);
    rehearsal.run_for(minutes(20));
    remarks = commission_and_purge(rehearsal, kFitter);
    for (int hour = 0; hour < options.days * 24; ++hour) {
      progress.at(hour);
      rehearsal.run_for(hours(1));
    }
  }
  fmt::print("{}", account_text(site.site, scenario, rehearsal, account, remarks));
  return 0;
}

}  // namespace

int demo_command(const DemoOptions& options) { return options.live ? demo_live(options) : rehearse(options); }

}  // namespace riserkeep
