// `riserkeep notify-test`: says for each person whether the server took the message, and if not, exactly why.
#include <fmt/format.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "daemon/commands/exit_codes.h"
#include "daemon/commands/remote.h"
#include "daemon/commands/remote_ask.h"

namespace riserkeep {
namespace {

using nlohmann::json;

constexpr auto kPatience = std::chrono::seconds(100);   // the daemon answers within 75 s

std::string text(const json& j, const char* key) { return j.contains(key) && j[key].is_string() ? j[key].get<std::string>() : ""; }

void tell(const json& result) {
  const std::string way = text(result, "way");
  if (result.value("delivered", false)) fmt::print("{}: delivered to {}.\n", text(result, "person"), way);
  else fmt::print(stderr, "{}: not delivered{}: {}\n", text(result, "person"), way.empty() ? "" : " to " + way, text(result, "words"));
}

}  // namespace

int notify_test_command(const Remote& remote, const std::string& person, const std::string& by) {
  json body{{"by", by}};
  if (!person.empty()) body["person"] = person;
  const auto answer = ask_daemon(remote, "POST", "/v1/commands/notify-test", body.dump(-1, ' ', false, json::error_handler_t::replace), kPatience);
  const json reply = json::parse(answer.reply.body, nullptr, false);
  if (answer.outcome != ClientAnswer::Outcome::answered || !reply.is_object() || !reply.contains("results")) return explain(answer);
  if (remote.json) fmt::print("{}\n", reply.dump(-1, ' ', false, json::error_handler_t::replace));
  else
    for (const auto& result : reply["results"]) tell(result);
  return answer.reply.status == 200 ? kDone : kFailed;
}

}  // namespace riserkeep
