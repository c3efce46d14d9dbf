#include "daemon/alerts/transfer.h"

#include <fmt/format.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <new>

namespace riserkeep {

void add_to(List& list, const std::string& text) {
  curl_slist* longer = curl_slist_append(list.get(), text.c_str());
  if (!longer) throw std::bad_alloc{};
  static_cast<void>(list.release());
  list.reset(longer);
}

Transfer::Transfer(std::uint64_t ticket) : easy_(curl_easy_init()), ticket_(ticket) {
  if (!easy_) throw std::bad_alloc{};
}

void Transfer::common(const std::string& url, const char* protocols, const std::string& ca_file, Duration time_out) {
  set(CURLOPT_ERRORBUFFER, error_);
  set(CURLOPT_URL, url.c_str());
  set(CURLOPT_PROTOCOLS_STR, protocols);
  set(CURLOPT_PROXY, "");
  set(CURLOPT_NOSIGNAL, 1L);
  set(CURLOPT_QUICK_EXIT, 1L);             // a name server that does not answer must not hold up our end
  const long ms = static_cast<long>(time_out.count());
  set(CURLOPT_TIMEOUT_MS, ms);
  set(CURLOPT_CONNECTTIMEOUT_MS, ms < 15'000 ? ms : 15'000L);
  set(CURLOPT_SSL_VERIFYPEER, 1L);
  set(CURLOPT_SSL_VERIFYHOST, 2L);
  set(CURLOPT_SSLVERSION, long{CURL_SSLVERSION_TLSv1_2});
  if (!ca_file.empty()) set(CURLOPT_CAINFO, ca_file.c_str());
  // A connection that is not reused has no past: what is said about a failure is about this message.
  set(CURLOPT_FRESH_CONNECT, 1L);
  set(CURLOPT_FORBID_REUSE, 1L);
  set(CURLOPT_SOCKOPTFUNCTION, &Transfer::opened);
  set(CURLOPT_SOCKOPTDATA, this);
  set(CURLOPT_CLOSESOCKETFUNCTION, &Transfer::closed);
  set(CURLOPT_CLOSESOCKETDATA, this);
}

int Transfer::opened(void* self, curl_socket_t s, curlsocktype) {
  static_cast<Transfer*>(self)->sockets_.push_back(s);
  return CURL_SOCKOPT_OK;
}

int Transfer::closed(void* self, curl_socket_t s) {
  std::erase(static_cast<Transfer*>(self)->sockets_, s);
  return ::close(s);
}

void Transfer::cut() {
  for (const curl_socket_t s : sockets_) ::shutdown(s, SHUT_RDWR);
}

std::optional<Outcome> Transfer::check_options() const {
  if (wrong_ == CURLE_OK) return std::nullopt;
  return Outcome{Outcome::Kind::unreachable, false, fmt::format("libcurl does not take an option: {}", curl_easy_strerror(wrong_))};
}

std::string Transfer::words(CURLcode code) const { return one_line(error_[0] != '\0' ? error_ : curl_easy_strerror(code)); }

std::optional<std::string> read_secret(const std::string& file, std::string& why) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> f(std::fopen(file.c_str(), "re"), [](std::FILE* p) { return std::fclose(p); });
  if (!f) {
    why = fmt::format("{}: {}; it must be readable for the service's user", file, std::strerror(errno));
    return std::nullopt;
  }
  char buffer[4096];
  const std::size_t n = std::fread(buffer, 1, sizeof buffer, f.get());
  std::string_view text{buffer, n};
  text = text.substr(0, text.find_first_of("\r\n"));
  if (text.empty()) {
    why = fmt::format("{}: there is nothing in its first line", file);
    return std::nullopt;
  }
  return std::string{text};
}

std::string one_line(std::string_view text, std::size_t most) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte >= 0x21 && byte < 0x7f) out += c;
    else if (!out.empty() && out.back() != ' ') out += ' ';
  }
  if (out.size() > most) out = out.substr(0, most) + "...";
  while (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

}  // namespace riserkeep
