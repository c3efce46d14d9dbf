#include "daemon/commands/plant.h"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <optional>
#include <system_error>

#include <fmt/core.h>

#include "config/load/load.h"
#include "drivers/plant/server.h"

namespace riserkeep {

namespace {
constexpr std::size_t kLongestLine = 4096;

volatile std::sig_atomic_t asked_to_stop = 0;
void ask_to_stop(int) { asked_to_stop = 1; }

void catch_signals() {
  struct sigaction action {};
  action.sa_handler = ask_to_stop;
  ::sigaction(SIGTERM, &action, nullptr);
  ::sigaction(SIGINT, &action, nullptr);
  std::signal(SIGPIPE, SIG_IGN);
}

std::string why_not(const std::system_error& e, int port) {
  switch (e.code().value()) {
    case EADDRINUSE:
      return fmt::format("port {} is in use by another program. Choose another one with --port, or 0 for any free one.",
                         port);
    case EACCES:
      return fmt::format("port {} needs more rights than we have. Choose one above 1023.", port);
    default:
      return fmt::format("cannot listen on port {}: {}.", port, e.code().message());
  }
}

// Lines from standard input without ever waiting for them. Its end only means that nobody types.
class TypedLines {
 public:
  template <class OnLine>
  void read(OnLine on_line) {
    pollfd wait{STDIN_FILENO, POLLIN, 0};
    while (open_ && ::poll(&wait, 1, 0) > 0) {
      char bytes[512];
      const ssize_t n = ::read(STDIN_FILENO, bytes, sizeof bytes);
      if (n <= 0) {
        open_ = n < 0 && (errno == EINTR || errno == EAGAIN);
        return;
      }
      for (const char c : std::string_view(bytes, static_cast<std::size_t>(n))) {
        if (c != '\n') {
          if (line_.size() < kLongestLine) line_ += c;
          continue;
        }
        on_line(line_);
        line_.clear();
      }
    }
  }

 private:
  bool open_ = true;
  std::string line_;
};

void serve(PlantServer& server) {
  TypedLines typed;
  while (asked_to_stop == 0) {
    server.step(milliseconds(20));
    typed.read([&server](const std::string& line) {
      const std::string answer = server.command(line);
      if (answer.empty()) return;
      fmt::print("{}\n", answer);
      std::fflush(stdout);
    });
  }
}

std::optional<Description> loaded(const std::string& site_file) {
  Loaded got = load_site_file(site_file, Purpose::rehearse);
  for (const Problem& p : got.problems) fmt::print(stderr, "{}\n", format_problem(p));
  if (!got.description) return std::nullopt;
  const Wiring& w = got.description->wiring;
  if (!w.registers.empty() || !w.coils.empty()) return std::move(got.description);
  fmt::print(stderr,
             "{}: nothing is wired to a Modbus bus, so there is nothing to serve. Add links, devices and 'at:'.\n",
             site_file);
  return std::nullopt;
}
}  // namespace

int plant_command(const std::string& site_file, int port, std::uint64_t seed, double time_scale, bool demo) {
  if (!std::isfinite(time_scale) || time_scale <= 0) {
    fmt::print(stderr, "the time scale must be above 0: 1 is real time, 60 an hour in a minute\n");
    return 2;
  }
  const auto site = loaded(site_file);
  if (!site) return 2;
  catch_signals();
  SimulatedRoom room(site->site, demo ? demo_scenario(site->site) : default_scenario(site->site, seed));
  try {
    PlantServer server(room, site->wiring, site->site, port, time_scale);
    for (const std::string& each : server.conflicts()) fmt::print(stderr, "{}: {}\n", site_file, each);
    fmt::print(stderr, "simulated room of {} on 127.0.0.1 port {}, time x{}. Type 'help' for commands.\n",
               site->site.name, server.port(), time_scale);
    serve(server);
  } catch (const std::system_error& e) {
    fmt::print(stderr, "{}\n", why_not(e, port));
    return 1;
  }
  return 0;
}

}  // namespace riserkeep
