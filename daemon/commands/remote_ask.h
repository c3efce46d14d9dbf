// Shared by the units that talk to the daemon.
#pragma once

#include <chrono>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "daemon/commands/remote.h"
#include "daemon/service/client.h"

namespace riserkeep {

ClientAnswer ask_daemon(const Remote&, std::string_view method, const std::string& target, std::string body = {},
                        std::chrono::milliseconds limit = std::chrono::seconds(15));
int exit_code_of(const ClientAnswer&);
std::string words_of(const ClientAnswer&);
int explain(const ClientAnswer&);      // the code; what is wrong goes to standard error
// One operator command; `done` is said when it was taken.
int send_command(const Remote&, const std::string& name, const nlohmann::json& body, const std::string& done);

}  // namespace riserkeep
