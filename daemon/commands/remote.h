// The commands that talk to a running daemon over its control socket.
#pragma once

#include <optional>
#include <string>

namespace riserkeep {

struct Remote {
  std::string state_dir = "/var/lib/riserkeep";
  bool json = false;                   // print the document as it is
};

int status_command(const Remote&);
int why_command(const Remote&, const std::string& system);

// One row for each operator command; `by` signs it. 0 done, 1 no answer, 2 not understood, 3 not running,
// 4 refused, with the reasons on standard error.
int ack_command(const Remote&, const std::string& reference, const std::string& by);
int release_command(const Remote&, const std::string& system, const std::string& by);
int mode_command(const Remote&, const std::string& system, const std::string& mode, const std::string& by);
int lock_command(const Remote&, const std::string& system, bool locked, const std::string& why, const std::string& by);
int reading_command(const Remote&, const std::string& place, const std::string& kind, const std::string& value,
                    const std::string& meter, const std::string& by);

// A message over the real path to one person, or to everybody when `person` is empty; waits for the servers' answers.
int notify_test_command(const Remote&, const std::string& person, const std::string& by);

struct CommissionOptions { std::string system, by; bool yes = false; std::optional<double> gauge_psi; };
// Asks first unless `yes`; then follows the pulse until it is proved or refused.
int commission_command(const Remote&, const CommissionOptions&);

}  // namespace riserkeep
