#include "daemon/alerts/ack_link.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <cstring>
#include <stdexcept>
#include <utility>

#include "daemon/formats/hmac.h"
#include "daemon/formats/input_log.h"
#include "daemon/formats/sha256.h"

namespace riserkeep {
namespace {

constexpr std::size_t kKeyBytes = 32;
constexpr std::size_t kLongestToken = 1000;

struct Fd {
  int fd;
  ~Fd() { if (fd >= 0) ::close(fd); }
};

[[noreturn]] void fail(const std::filesystem::path& file, const char* what) {
  throw std::runtime_error{fmt::format("{}: {} ({}). Look at the owner and the mode of the state directory", file.string(), what, std::strerror(errno))};
}

std::optional<std::string> from_base64url(std::string_view text) {
  std::string plain{text};
  for (char& c : plain) {
    if (c == '+' || c == '/' || c == '=') return std::nullopt;
    c = c == '-' ? '+' : c == '_' ? '/' : c;
  }
  plain.append((4 - plain.size() % 4) % 4, '=');
  return from_base64(plain);
}

template <class T>
bool number_at(std::string_view& text, T& out) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), out);
  if (error != std::errc{} || end == text.data() + text.size() || *end != '\n') return false;
  text.remove_prefix(static_cast<std::size_t>(end - text.data()) + 1);
  return true;
}

}  // namespace

std::string AckLinks::key_in(const std::filesystem::path& dir) {
  const auto file = dir / "ack-link.key";
  if (const Fd old{::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW)}; old.fd >= 0) {
    std::string key(kKeyBytes + 1, '\0');
    const auto n = ::read(old.fd, key.data(), key.size());
    if (n == static_cast<ssize_t>(kKeyBytes)) return key.substr(0, kKeyBytes);
    if (n < 0) fail(file, "cannot be read");
    // Cut short by a power failure: links made with it are lost, which is the safe side.
  } else if (errno != ENOENT) fail(file, "cannot be opened");
  const std::string key = random_bytes(kKeyBytes);
  const auto fresh = dir / "ack-link.key.new";
  ::unlink(fresh.c_str());
  {
    const Fd out{::open(fresh.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600)};
    if (out.fd < 0) fail(fresh, "cannot be made");
    if (::write(out.fd, key.data(), key.size()) != static_cast<ssize_t>(key.size()) || ::fsync(out.fd) != 0) fail(fresh, "cannot be written");
  }
  if (::rename(fresh.c_str(), file.c_str()) != 0) fail(file, "cannot be put in place");
  return key;
}

void AckLinks::restore(std::vector<SpentToken> spent) {
  for (auto& s : spent) spent_.emplace(std::move(s.sha256), s.until_wall_ms);
}

std::string AckLinks::make(const AckClaim& c) const {
  const std::string body = base64url(fmt::format("1\n{}\n{}\n{}\n{}", c.occurrence, c.until.ms, c.reference, c.person));
  return body + '.' + base64url(hmac_sha256(key_, "ack-link " + body));
}

std::variant<AckClaim, std::string> AckLinks::check(std::string_view token, WallTime now) const {
  const std::string wrong = "this link is not one of ours; acknowledge at the box or by its command line";
  const auto dot = token.find('.');
  if (token.size() > kLongestToken || dot == std::string_view::npos) return wrong;
  const std::string_view body = token.substr(0, dot);
  if (!equal_in_time(token.substr(dot + 1), base64url(hmac_sha256(key_, "ack-link " + std::string{body})))) return wrong;
  const auto plain = from_base64url(body);
  if (!plain || !plain->starts_with("1\n")) return wrong;
  std::string_view rest = std::string_view{*plain}.substr(2);
  AckClaim c;
  if (!number_at(rest, c.occurrence) || !number_at(rest, c.until.ms)) return wrong;
  const auto line = rest.find('\n');
  if (line == std::string_view::npos) return wrong;
  c.reference = rest.substr(0, line);
  c.person = rest.substr(line + 1);
  if (now.ms >= c.until.ms) return "this link has expired; acknowledge at the box or by its command line";
  if (spent_.contains(sha256_hex(token))) return "this link was used already";
  return c;
}

std::variant<SpentToken, std::string> AckLinks::spend(std::string_view token, WallTime now) {
  auto checked = check(token, now);
  if (auto* why = std::get_if<std::string>(&checked)) return std::move(*why);
  std::erase_if(spent_, [now](const auto& s) { return s.second <= now.ms; });
  SpentToken spent{sha256_hex(token), std::get<AckClaim>(checked).until.ms};
  spent_.emplace(spent.sha256, spent.until_wall_ms);
  return spent;
}

}  // namespace riserkeep
