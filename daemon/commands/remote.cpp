#include "daemon/commands/remote.h"

#include <fmt/format.h>

#include <charconv>
#include <cstdio>
#include <exception>
#include <nlohmann/json.hpp>
#include <utility>

#include "daemon/commands/exit_codes.h"
#include "daemon/commands/remote_ask.h"
#include "daemon/render/status.h"
#include "daemon/render/why.h"

namespace riserkeep {

using nlohmann::json;

int exit_code_of(const ClientAnswer& a) {
  if (a.outcome == ClientAnswer::Outcome::not_running) return kNotRunning;
  if (a.outcome == ClientAnswer::Outcome::failed) return kFailed;
  if (a.reply.status == 200) return kDone;
  if (a.reply.status == 409 || a.reply.status == 403) return kRefused;
  return a.reply.status >= 500 ? kFailed : kUsage;
}

std::string words_of(const ClientAnswer& a) {
  if (a.outcome != ClientAnswer::Outcome::answered) return a.why;
  const json body = json::parse(a.reply.body, nullptr, false);
  if (body.is_object() && body.contains("error") && body["error"].is_string()) return body["error"].get<std::string>();
  return fmt::format("the daemon answered with status {}", a.reply.status);
}

int explain(const ClientAnswer& a) {
  const int code = exit_code_of(a);
  if (code != kDone) fmt::print(stderr, "{}{}\n", code == kRefused ? "Refused: " : "", words_of(a));
  return code;
}

ClientAnswer ask_daemon(const Remote& remote, std::string_view method, const std::string& target, std::string body,
                        std::chrono::milliseconds limit) {
  return ask(remote.state_dir + "/control.sock", method, target, std::move(body), limit);
}

namespace {

int show(const Remote& remote, const std::string& target, std::string (*render)(std::string_view, const Style&)) {
  const auto answer = ask_daemon(remote, "GET", target);
  if (const int code = explain(answer); code != kDone) return code;
  std::string text = answer.reply.body + '\n';
  if (!remote.json) {
    try {
      text = render(answer.reply.body, style_for(stdout));
    } catch (const std::exception& e) {
      fmt::print(stderr, "{}\n", e.what());
      return kFailed;
    }
  }
  return std::fwrite(text.data(), 1, text.size(), stdout) == text.size() && std::fflush(stdout) == 0 ? kDone : kFailed;
}

}  // namespace

int send_command(const Remote& remote, const std::string& name, const json& body, const std::string& done) {
  const auto answer = ask_daemon(remote, "POST", "/v1/commands/" + name,
                                 body.dump(-1, ' ', false, json::error_handler_t::replace));
  const int code = explain(answer);
  if (code == kDone) fmt::print("{}\n", remote.json ? answer.reply.body.substr(0, answer.reply.body.find('\n')) : done);
  return code;
}

int status_command(const Remote& remote) { return show(remote, "/v1/status", render_status); }

int why_command(const Remote& remote, const std::string& system) {
  return show(remote, "/v1/systems/" + percent_encoded(system) + "/why", render_why);
}

int ack_command(const Remote& remote, const std::string& reference, const std::string& by) {
  return send_command(remote, "ack", {{"reference", reference}, {"by", by}}, fmt::format("{} acknowledged by {}.", reference, by));
}

int release_command(const Remote& remote, const std::string& system, const std::string& by) {
  return send_command(remote, "release", {{"system", system}, {"by", by}}, fmt::format("{} released by {}.", system, by));
}

int mode_command(const Remote& remote, const std::string& system, const std::string& mode, const std::string& by) {
  return send_command(remote, "mode", {{"system", system}, {"mode", mode}, {"by", by}},
              fmt::format("{} is in mode {}, set by {}.", system, mode, by));
}

int lock_command(const Remote& remote, const std::string& system, bool locked, const std::string& why, const std::string& by) {
  return send_command(remote, "lock", {{"system", system}, {"locked", locked}, {"why", why}, {"by", by}},
              fmt::format("The vent of {} is {} by {}.", system, locked ? "locked" : "unlocked", by));
}

int reading_command(const Remote& remote, const std::string& place, const std::string& kind, const std::string& value,
                    const std::string& meter, const std::string& by) {
  double oxygen = 0;
  const std::string_view figure = std::string_view(value).substr(0, value.find_first_of(" %"));
  const auto [end, error] = std::from_chars(figure.data(), figure.data() + figure.size(), oxygen);
  if (error != std::errc{} || end != figure.data() + figure.size()) {
    fmt::print(stderr, "'{}' is no reading; write the oxygen by volume, as in 1.8 or \"1.8 %\"\n", value);
    return kUsage;
  }
  return send_command(remote, "reading", {{"place", place}, {"kind", kind}, {"oxygen_percent", oxygen}, {"meter", meter}, {"by", by}},
              fmt::format("{}: {:.2f} % O2 ({}) noted, by {}.", place, oxygen, kind, by));
}

}  // namespace riserkeep
