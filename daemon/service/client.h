// The command line's side of the control socket.
#pragma once

#include <chrono>
#include <string>
#include <string_view>

#include "daemon/service/router.h"

namespace riserkeep {

struct ClientAnswer {
  enum class Outcome { answered, not_running, failed } outcome = Outcome::failed;
  Reply reply;                 // when answered
  std::string why;             // else, in words
};

// One request, blocking, within `limit`.
ClientAnswer ask(const std::string& socket_path, std::string_view method, std::string_view target,
                 std::string body = {}, std::chrono::milliseconds limit = std::chrono::seconds(15));
std::string percent_encoded(std::string_view);    // for one part of a path

}  // namespace riserkeep
