#include "config/report_delivery.h"

#include <algorithm>

#include <fmt/format.h>

namespace riserkeep {

namespace {

bool anyone_by(const Site& site, bool hook) {
  return std::any_of(site.people.begin(), site.people.end(), [hook](const Person& p) {
    return std::any_of(p.reach.begin(), p.reach.end(), [hook](const Reach& r) { return (r.by == ReachBy::hook) == hook; });
  });
}

}  // namespace

std::string delivery_report(const Description& d) {
  const Delivery& v = d.delivery;
  if (d.site.people.empty()) return "";
  std::string out = "MESSAGES\n";
  if (v.mail)
    out += fmt::format("  mail through {}, {}{}, from {}\n", v.mail->uri, v.mail->tls_required ? "TLS required" : "IN CLEAR TEXT",
                       v.mail->user.empty() ? ", no log-in" : fmt::format(", as {}", v.mail->user), v.mail->from);
  else if (anyone_by(d.site, false)) out += "  no mail server is set up: NOBODY IS TOLD BY MAIL (add mail:)\n";
  if (!v.hook_secret_file.empty()) out += fmt::format("  posts are signed with {}\n", v.hook_secret_file);
  else if (anyone_by(d.site, true)) out += "  no key for posts is set up: NOBODY IS TOLD BY POST (add hook:)\n";
  if (v.mail || !v.hook_secret_file.empty())
    out += fmt::format("  after {} failures running the next way is tried, after {} h a message is given up\n", v.next_way_after,
                       std::chrono::duration_cast<hours>(v.give_up).count());
  if (!v.heartbeat_url.empty())
    out += fmt::format("  heartbeat to {} every {} s\n", v.heartbeat_url, std::chrono::duration_cast<seconds>(v.heartbeat_every).count());
  return out;
}

}  // namespace riserkeep
