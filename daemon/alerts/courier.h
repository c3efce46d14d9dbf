// The one thread that sends: mail by SMTP, posts and pings by HTTPS, several at once. Nothing else in the
// program waits for it. Secrets are read from their files here, at every attempt.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <variant>

#include "config/site.h"
#include "daemon/alerts/outbox.h"

namespace riserkeep {

struct MailParcel {
  MailServer server;
  std::string to;                          // one address
  std::string text;                        // headers and body, CRLF line ends
};
struct PostParcel {
  std::string url;                         // https only
  std::string secret_file, ca_file;
  std::string body, idempotency_key;
  Duration time_out = seconds(30);
};
struct PingParcel {
  std::string url, ca_file;
  Duration time_out = seconds(20);
};
using Parcel = std::variant<MailParcel, PostParcel, PingParcel>;

class Courier {
 public:
  // `done` runs on the courier's thread, once for each parcel that was not cut off by stop().
  explicit Courier(std::function<void(std::uint64_t ticket, Outcome)> done);
  ~Courier();
  Courier(const Courier&) = delete;
  Courier& operator=(const Courier&) = delete;

  void start();                            // signals must be blocked in the calling thread
  void send(std::uint64_t ticket, Parcel); // any thread, never blocks
  // What is under way has so long to end; the rest is cut off.
  void stop(std::chrono::milliseconds grace);

 private:
  class Worker;
  std::unique_ptr<Worker> worker_;
};

}  // namespace riserkeep
