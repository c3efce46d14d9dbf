#include "drivers/mqtt/options.h"

#include <fmt/format.h>

#include <cstdint>
#include <fstream>
#include <iterator>

namespace riserkeep {
namespace {

std::string read_password(const std::string& file) {
  std::ifstream in(file);
  std::string line;
  std::getline(in, line);
  while (!line.empty() && (line.back() == '\r' || line.back() == ' ')) line.pop_back();
  return line;
}

}  // namespace

std::string broker_client_id(const std::string& prefix, const std::string& link) {
  std::ifstream file("/etc/machine-id");
  const std::string machine{std::istreambuf_iterator<char>(file), {}};
  std::uint64_t h = 14695981039346656037u;   // FNV-1a
  for (const char c : machine + prefix + link) h = (h ^ static_cast<std::uint8_t>(c)) * 1099511628211u;
  return fmt::format("rk{:016x}", h);
}

std::string broker_uri(const std::string& uri) {
  if (uri.starts_with("mqtts://")) return "ssl://" + uri.substr(8);
  if (uri.starts_with("mqtt://")) return "tcp://" + uri.substr(7);
  return uri;
}

bool broker_by_tls(const std::string& uri) { return uri.starts_with("mqtts://") || uri.starts_with("ssl://"); }

mqtt::connect_options broker_options(const Mqtt& where, std::chrono::seconds time_out, const std::string& will_topic) {
  auto options = mqtt::connect_options_builder().clean_session(true).keep_alive_interval(std::chrono::seconds(20))
                     .connect_timeout(time_out).automatic_reconnect(false)
                     .will(mqtt::message(will_topic, "offline", 1, true)).finalize();
  if (!where.user.empty()) options.set_user_name(where.user);
  if (!where.password_file.empty()) options.set_password(read_password(where.password_file));
  if (!broker_by_tls(where.uri)) return options;
  mqtt::ssl_options tls;
  tls.set_trust_store(where.ca_file.empty() ? "/etc/ssl/certs/ca-certificates.crt" : where.ca_file);
  tls.set_enable_server_cert_auth(true);
  tls.set_verify(true);              // off by default: any name would do
  options.set_ssl(tls);
  return options;
}

}  // namespace riserkeep
