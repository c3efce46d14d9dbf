// mail:, hook:, heartbeat: and delivery: how messages leave the box.
#pragma once

#include "config/load/build.h"

namespace riserkeep {

// After read_people().
void read_delivery(Build&, Section& top);

bool is_mail_address(const std::string&);   // works@example.org, nothing around it
// "https://host[:port][/path]" without a user in it; `why` says what is wrong.
bool is_https_url(const std::string&, std::string& why);

}  // namespace riserkeep
