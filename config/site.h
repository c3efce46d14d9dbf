// The whole of a site file, validated and immutable.
#pragma once

#include <optional>
#include <string>

#include "config/wiring.h"
#include "rules/judge/settings.h"
#include "rules/site.h"

namespace riserkeep {

// How notices leave the box. Secrets stay in their files.
struct MailServer {
  std::string uri;                     // smtp://host:port (STARTTLS) or smtps://host:port
  std::string from, user, password_file, ca_file;
  bool tls_required = true;            // false only where the site file says so
  Duration time_out = seconds(60);     // of one message, from connecting to the answer
};
struct Delivery {
  std::optional<MailServer> mail;
  std::string hook_secret_file;        // HMAC key of HTTPS posts
  std::string hook_ca_file;
  std::string reached_at;              // https://... of this box's own pages, for links in messages; empty: none
  Duration give_up = hours(48);
  int next_way_after = 5;              // failures running, then the person's next way is tried
  std::string heartbeat_ca_file;
  std::string heartbeat_url;           // https ping for who watches the box; empty: none
  Duration heartbeat_every = minutes(5);
};

struct Description {
  Site site;
  RuleSettings rules;
  Wiring wiring;
  Delivery delivery;
  std::string file;      // as given on the command line
  std::string text;      // the bytes that were read; their SHA-256 goes into the input log
};

}  // namespace riserkeep
