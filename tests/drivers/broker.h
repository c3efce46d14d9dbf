// A real broker (mosquitto) on a free port of loopback, started and ended by its process id.
#pragma once

#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>
#include <string>
#include <thread>

#include "peer.h"

namespace bench {

class Broker {
 public:
  static bool available() { return access("/usr/sbin/mosquitto", X_OK) == 0; }
  // With a certificate and its key (PEM files) the listener speaks TLS.
  explicit Broker(int port, const std::string& certificate = "", const std::string& key = "") : port_(port) {
    config_ = "/tmp/riserkeep-broker-" + std::to_string(getpid()) + "-" + std::to_string(port) + ".conf";
    std::ofstream(config_) << "listener " << port << " 127.0.0.1\nallow_anonymous true\npersistence false\n"
                              "user root\nlog_type none\n"
                           << (certificate.empty() ? "" : "certfile " + certificate + "\nkeyfile " + key + "\n");
    start();
  }
  ~Broker() {
    end(SIGTERM);
    unlink(config_.c_str());
  }
  Broker(const Broker&) = delete;
  Broker& operator=(const Broker&) = delete;
  std::string uri() const { return "mqtt://127.0.0.1:" + std::to_string(port_); }

  void start() {
    std::string program = "/usr/sbin/mosquitto", option = "-c";
    char* arguments[] = {program.data(), option.data(), config_.data(), nullptr};
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    for (const int fd : {1, 2}) posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", 1, 0);
    if (posix_spawn(&pid_, program.c_str(), &actions, nullptr, arguments, environ) != 0) pid_ = -1;
    posix_spawn_file_actions_destroy(&actions);
  }
  void end(int signal) {
    if (pid_ <= 0) return;
    kill(pid_, signal);
    waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }

 private:
  int port_;
  std::string config_;
  pid_t pid_ = -1;
};

}  // namespace bench
