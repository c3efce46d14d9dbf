// HTTP sessions over the control socket. Bounded in everything: time of a whole request, size of header and
// body, number of connections. A client that drips bytes does not lengthen its deadline.
#pragma once

#include <chrono>
#include <cstddef>
#include <memory>
#include <string>

#include "daemon/service/router.h"

namespace boost::asio {
class io_context;
}

namespace riserkeep {

struct SessionLimits {
  std::chrono::milliseconds request = std::chrono::seconds(10);   // from the first byte waited for to the last
  std::chrono::milliseconds reply = std::chrono::seconds(10);     // the handler's time and the writing
  std::size_t header_bytes = 8 * 1024, body_bytes = 64 * 1024;
  std::size_t connections = 32;
};

// Listens at `path` (mode 0660) until destroyed; then the socket file is removed. Throws std::system_error
// with the path in its text when the socket cannot be made. `router` must outlive the server.
class ControlServer {
 public:
  ControlServer(boost::asio::io_context&, std::string path, const Router& router, SessionLimits = {});
  ~ControlServer();
  ControlServer(const ControlServer&) = delete;
  ControlServer& operator=(const ControlServer&) = delete;

 private:
  class Listener;
  std::shared_ptr<Listener> listener_;
};

}  // namespace riserkeep
