// What becomes of messages to people, as a part of status.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/alerts/outbox.h"
#include "daemon/service/resources_parts.h"

namespace riserkeep {

struct MessagesNote {
  Outbox::Summary outbox;
  std::size_t people = 0;                  // named in the site file
  bool heartbeat = false;                  // one is set up
  std::string heartbeat_trouble;
};

namespace resources {
Json messages_document(const Labels&, const MessagesNote&);
}

}  // namespace riserkeep
