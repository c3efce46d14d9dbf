#include "daemon/commands/demo_live.h"

#include <arpa/inet.h>
#include <fmt/format.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <deque>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <optional>
#include <thread>
#include <vector>

#include "config/load/load.h"
#include "daemon/commands/demo.h"
#include "daemon/commands/remote.h"
#include "daemon/commands/remote_ask.h"

extern char** environ;

namespace riserkeep {

extern const char* const demo_live_site_text;

namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

constexpr int kPortInFile = 15020;
constexpr auto kFirstInputs = 12s, kTryAgain = 2s;   // the room's file asks for 10 s of good inputs after a start
volatile sig_atomic_t stop_asked = 0;

class Process {
 public:
  explicit Process(std::vector<std::string> words) {
    std::vector<char*> argv;
    for (std::string& w : words) argv.push_back(w.data());
    argv.push_back(nullptr);
    if (posix_spawn(&pid_, argv[0], nullptr, nullptr, argv.data(), environ) != 0) pid_ = -1;
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;
  ~Process() { stop(); }

  bool running() {
    if (pid_ <= 0) return false;
    if (waitpid(pid_, &status_, WNOHANG) == pid_) pid_ = -1;
    return pid_ > 0;
  }
  // Exit code; -1 when asked to stop meanwhile.
  int wait() {
    while (running()) {
      if (stop_asked) return -1;
      std::this_thread::sleep_for(50ms);
    }
    return WIFEXITED(status_) ? WEXITSTATUS(status_) : -1;
  }
  void stop() {
    if (!running()) return;
    kill(pid_, SIGTERM);
    for (int i = 0; i < 200 && running(); ++i) std::this_thread::sleep_for(50ms);
    if (running()) kill(pid_, SIGKILL);
  }

 private:
  pid_t pid_ = -1;
  int status_ = 0;
};

int free_port() {
  const int s = socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  const bool ok = s >= 0 && bind(s, reinterpret_cast<sockaddr*>(&address), size) == 0 &&
                  getsockname(s, reinterpret_cast<sockaddr*>(&address), &size) == 0;
  if (s >= 0) close(s);
  return ok ? ntohs(address.sin_port) : kPortInFile;
}

// The site file with a port that is free on this machine.
std::string site_text(int port) {
  std::string text = demo_live_site_text;
  const std::string from = std::to_string(kPortInFile), to = std::to_string(port);
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size()) text.replace(at, from.size(), to);
  return text;
}

bool wait_for(const fs::path& socket, Process& daemon) {
  for (int i = 0; i < 200 && !stop_asked && daemon.running(); ++i) {
    if (fs::exists(socket)) return true;
    std::this_thread::sleep_for(100ms);
  }
  return false;
}

// What a fitter would read on the gauge beside the valve: here the daemon's own figure.
std::optional<double> gauge_of(const Remote& remote, const std::string& system) {
  const auto answer = ask_daemon(remote, "GET", "/v1/systems/" + system);
  const auto document = nlohmann::json::parse(answer.reply.body, nullptr, false);
  const auto psi = document.is_object() ? document.value(nlohmann::json::json_pointer("/air/psi"), nlohmann::json()) : nlohmann::json();
  return psi.is_number() ? std::optional(psi.get<double>()) : std::nullopt;
}

bool commission_one(const DemoOptions& options, const std::string& state, const std::string& system) {
  const auto gauge = gauge_of({.state_dir = state}, system);
  if (!gauge) return false;
  const std::vector<std::string> who{"--by", "R. Fitter", "--state", state};
  std::vector<std::string> commission{options.program, "commission", system, "--yes", "--gauge", fmt::format("{:.2f}", *gauge)};
  std::vector<std::string> purge{options.program, "mode", system, "purge"};
  commission.insert(commission.end(), who.begin(), who.end());
  purge.insert(purge.end(), who.begin(), who.end());
  return Process(commission).wait() == 0 && Process(purge).wait() == 0;
}

// One pulse at a time; what is refused now, as while a compressor runs, is tried again.
void commission_all(const DemoOptions& options, const Site& site, const std::string& state, Process& daemon) {
  std::deque<std::string> waiting;
  for (const System& system : site.systems)
    if (system.vent) waiting.push_back(system.id);
  auto next_try = std::chrono::steady_clock::now() + kFirstInputs;
  while (!waiting.empty() && !stop_asked && daemon.running()) {
    std::this_thread::sleep_for(200ms);
    if (std::chrono::steady_clock::now() < next_try) continue;
    const std::string system = waiting.front();
    waiting.pop_front();
    if (!commission_one(options, state, system)) waiting.push_back(system);
    next_try = std::chrono::steady_clock::now() + kTryAgain;
  }
  if (waiting.empty()) fmt::print(stderr, "All vents are commissioned, all systems purge.\n");
}

}  // namespace

int demo_live(const DemoOptions& options) {
  struct sigaction on_stop{};
  on_stop.sa_handler = [](int) { stop_asked = 1; };
  sigaction(SIGINT, &on_stop, nullptr);
  sigaction(SIGTERM, &on_stop, nullptr);

  std::string folder = (fs::temp_directory_path() / "riserkeep-demo-XXXXXX").string();
  if (!mkdtemp(folder.data())) {
    fmt::print(stderr, "demo: no temporary folder at {}: {}\n", folder, std::generic_category().message(errno));
    return 1;
  }
  const std::string site = folder + "/demo-live.yaml", state = folder + "/state";
  const int port = free_port();
  std::ofstream(site) << site_text(port);
  fs::create_directory(state);
  fmt::print(stderr, "Room and daemon over Modbus TCP on 127.0.0.1:{}. Stop with Ctrl-C.\n"
                     "Meanwhile: {} status --state {}\n", port, options.program, state);
  int result = 0;
  {
    Process room({options.program, "plant", site, "--port", std::to_string(port), "--demo", "--seed", std::to_string(options.seed)});
    std::this_thread::sleep_for(500ms);
    Process daemon({options.program, "run", site, "--state", state, "--events", "-"});
    const Loaded loaded = load_site_file(site, Purpose::run);
    if (loaded.description && wait_for(state + "/control.sock", daemon))
      commission_all(options, loaded.description->site, state, daemon);
    while (!stop_asked && daemon.running() && room.running()) std::this_thread::sleep_for(200ms);
    if (!stop_asked) result = 1;
  }
  fs::remove_all(folder);
  return result;
}

}  // namespace riserkeep
