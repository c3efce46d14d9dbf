#include "config/load/delivery.h"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

namespace riserkeep {

namespace {

// What stands between "://" and the first '/'; empty when there is none.
std::string_view authority_of(std::string_view uri) {
  const auto scheme = uri.find("://");
  if (scheme == std::string_view::npos) return {};
  uri.remove_prefix(scheme + 3);
  return uri.substr(0, uri.find('/'));
}

bool plain_text(std::string_view s) {
  return std::all_of(s.begin(), s.end(), [](char c) { return static_cast<unsigned char>(c) > 0x20 && c != 0x7f; });
}

// "host", "host:port", "[2001:db8::1]:port"
bool good_authority(std::string_view a) {
  std::string_view port;
  if (a.starts_with('[')) {
    const auto close = a.find(']');
    if (close == std::string_view::npos || close < 3) return false;
    port = a.substr(close + 1);
  } else {
    const auto colon = a.find(':');
    if (colon == 0 || a.empty()) return false;
    if (colon != std::string_view::npos) port = a.substr(colon);
  }
  if (port.empty()) return true;
  int v = 0;
  const auto [end, code] = std::from_chars(port.data() + 1, port.data() + port.size(), v);
  return port[0] == ':' && code == std::errc{} && end == port.data() + port.size() && v >= 1 && v <= 65535;
}

void read_file_name(Section& s, const char* key, std::string& into) {
  const auto f = s.get(key);
  if (!f) return;
  const auto t = read_text(*f);
  if (!t) return;
  if ((*t)[0] != '/') f->error(fmt::format("'{}' is not a whole path", *t), "write it from the root, like /etc/riserkeep/mail.pass");
  into = *t;
}

void refuse_password(Section& s, const char* key, const char* file_key, const char* file) {
  if (const auto f = s.get(key))
    f->error("a secret must not be in the site file", fmt::format("put it into a file and name that: {}: {}", file_key, file));
}

void read_server(Section& s, MailServer& m) {
  const auto f = s.need("server", "server: \"smtp://mail.example.org:587\"");
  if (!f) return;
  const auto t = read_text(*f);
  if (!t) return;
  const bool known = t->starts_with("smtp://") || t->starts_with("smtps://");
  const auto authority = authority_of(*t);
  const bool path = t->size() > t->find("://") + 3 + authority.size();
  if (known && authority.find('@') != std::string_view::npos)
    f->error("a user or password does not belong into the address", "use the keys user and password_file");
  else if (!known || !good_authority(authority) || path || !plain_text(*t))
    f->error(fmt::format("'{}' is not a mail server", *t),
             "write it like smtp://mail.example.org:587 (STARTTLS) or smtps://mail.example.org (TLS from the start)");
  m.uri = *t;
}

void read_tls(Section& s, MailServer& m) {
  const auto f = s.get("tls");
  if (!f) return;
  const auto i = read_choice(*f, {"required", "none"});
  if (!i) return;
  m.tls_required = *i == 0;
  if (m.tls_required) return;
  if (m.uri.starts_with("smtps://")) f->error("smtps: always uses TLS", "remove the key, or write smtp:// for a server without TLS");
  else
    f->warn(m.user.empty() ? "messages travel in clear text" : "messages and the password travel in clear text",
            "leave the key out unless the server stands in the same room");
}

void read_mail(Build& b, Section& top) {
  const auto f = top.get("mail");
  if (!f) return;
  MailServer m;
  Section s(*f, "{server: \"smtp://mail.example.org:587\", from: riserkeep@example.org}");
  if (!f->is_map()) return;
  read_server(s, m);
  if (const auto from = s.need("from", "from: riserkeep@example.org"))
    if (const auto t = read_text(*from)) {
      if (!is_mail_address(*t)) from->error(fmt::format("'{}' is not a mail address", *t), "write it like riserkeep@example.org");
      m.from = *t;
    }
  const auto user = s.get("user");
  if (user) m.user = read_text(*user).value_or("");
  read_file_name(s, "password_file", m.password_file);
  refuse_password(s, "password", "password_file", "/etc/riserkeep/mail.pass");
  if (user && m.password_file.empty() && !s.has("password"))
    user->error("there is no password for this user", "put it into a file and name that: password_file: /etc/riserkeep/mail.pass");
  if (!user && !m.password_file.empty()) f->error("there is a password and no user", "add user:");
  read_file_name(s, "ca_file", m.ca_file);
  read_tls(s, m);
  if (const auto t = s.get("time_out")) m.time_out = read_duration(*t, seconds(5), minutes(10)).value_or(m.time_out);
  b.d.delivery.mail = std::move(m);
}

void read_hook(Build& b, Section& top) {
  const auto f = top.get("hook");
  if (!f) return;
  Section s(*f, "{secret_file: /etc/riserkeep/hook.key}");
  if (!f->is_map()) return;
  s.need("secret_file", "secret_file: /etc/riserkeep/hook.key");
  read_file_name(s, "secret_file", b.d.delivery.hook_secret_file);
  refuse_password(s, "secret", "secret_file", "/etc/riserkeep/hook.key");
  read_file_name(s, "ca_file", b.d.delivery.hook_ca_file);
}

void read_url(const std::optional<Field>& f, std::string& into) {
  if (!f) return;
  const auto t = read_text(*f);
  std::string why;
  if (t && !is_https_url(*t, why)) f->error(fmt::format("'{}' {}", *t, why), "write it like https://example.org/riser-room");
  into = t.value_or("");
}

void read_heartbeat(Build& b, Section& top) {
  const auto f = top.get("heartbeat");
  if (!f) return;
  Section s(*f, "{url: \"https://watch.example.org/qm-014\", every: 5 min}");
  if (!f->is_map()) return;
  read_url(s.need("url", "url: \"https://watch.example.org/qm-014\""), b.d.delivery.heartbeat_url);
  read_file_name(s, "ca_file", b.d.delivery.heartbeat_ca_file);
  if (const auto t = s.get("every"))
    b.d.delivery.heartbeat_every = read_duration(*t, seconds(10), hours(24)).value_or(b.d.delivery.heartbeat_every);
}

void read_terms(Build& b, Section& top) {
  const auto f = top.get("delivery");
  if (!f) return;
  Section s(*f, "{give_up: 48 h, next_way_after: 5}");
  if (!f->is_map()) return;
  Delivery& d = b.d.delivery;
  read_url(s.get("reached_at"), d.reached_at);
  while (d.reached_at.ends_with('/')) d.reached_at.pop_back();
  if (const auto t = s.get("give_up")) d.give_up = read_duration(*t, minutes(10), days(14)).value_or(d.give_up);
  if (const auto n = s.get("next_way_after")) d.next_way_after = static_cast<int>(read_integer(*n, 1, 100).value_or(d.next_way_after));
}

}  // namespace

bool is_mail_address(const std::string& a) {
  const auto at = a.find('@');
  return at != std::string::npos && at > 0 && at + 1 < a.size() && a.find('@', at + 1) == std::string::npos &&
         a.size() <= 254 && a.find_first_of("<>,;\"\\()[]") == std::string::npos && plain_text(a);
}

bool is_https_url(const std::string& url, std::string& why) {
  const auto authority = authority_of(url);
  if (!url.starts_with("https://")) why = "is not an https address";
  else if (authority.find('@') != std::string_view::npos) why = "has a user in it";
  else if (!good_authority(authority) || !plain_text(url) || url.find_first_of("\"<>\\^`{|}") != std::string::npos) why = "is not an address";
  return why.empty();
}

void read_delivery(Build& b, Section& top) {
  read_mail(b, top);
  read_hook(b, top);
  read_heartbeat(b, top);
  read_terms(b, top);
}

}  // namespace riserkeep
