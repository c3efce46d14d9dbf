#include "daemon/commands/reload.h"

#include <fmt/format.h>

#include <chrono>
#include <nlohmann/json.hpp>
#include <thread>

#include "daemon/commands/exit_codes.h"
#include "daemon/commands/remote_ask.h"

namespace riserkeep {
namespace {

using nlohmann::json;

constexpr std::chrono::milliseconds kPatience{60'000}, kAgain{200};

// When the engine that answers began; -1: nobody answers.
std::int64_t started(const Remote& remote) {
  const auto answer = ask_daemon(remote, "GET", "/v1/health");
  if (exit_code_of(answer) != kDone) return -1;
  const json body = json::parse(answer.reply.body, nullptr, false);
  return body.is_object() ? body.value("started_ms", std::int64_t{-1}) : -1;
}

void print_all(const json& body, const char* key) {
  if (!body.is_object() || !body.contains(key)) return;
  for (const auto& line : body[key])
    if (line.is_string()) fmt::print(stderr, "{}\n", line.get<std::string>());
}

}  // namespace

int reload_command(const Remote& remote) {
  const std::int64_t before = started(remote);
  const auto answer = ask_daemon(remote, "POST", "/v1/commands/reload", "{}");
  const json body = json::parse(answer.reply.body, nullptr, false);
  print_all(body, "problems");
  if (const int code = explain(answer); code != kDone) return code;
  print_all(body, "warnings");
  if (remote.json) fmt::print("{}\n", body.dump());
  if (!body.value("changed", false)) {
    if (!remote.json) fmt::print("The site file is the one in force: nothing changed.\n");
    return kDone;
  }
  for (const auto end = std::chrono::steady_clock::now() + kPatience; std::chrono::steady_clock::now() < end;) {
    std::this_thread::sleep_for(kAgain);
    const std::int64_t now = started(remote);
    if (now < 0 || now == before) continue;
    if (!remote.json) fmt::print("The new site file is in force. Every vent was shut; none opens before its inputs have proved good.\n");
    return kDone;
  }
  fmt::print(stderr, "The site file was accepted, but nobody answers since: look at the daemon's log.\n");
  return kFailed;
}

}  // namespace riserkeep
