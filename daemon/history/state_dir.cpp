#include "daemon/history/state_dir.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <stdexcept>
#include <system_error>

#include "daemon/history/store.h"

namespace riserkeep {
namespace {

std::string why(int code) { return std::error_code{code, std::generic_category()}.message(); }

[[noreturn]] void refuse(const std::filesystem::path& dir, const std::string& reason) {
  throw std::runtime_error{fmt::format("{}: the state directory cannot be written ({}). Give it to the user that runs "
                                       "riserkeep (chown), or choose another one with --state DIR", dir.string(), reason)};
}

}  // namespace

void make_writable(const std::filesystem::path& dir) {
  std::error_code code;
  if (std::filesystem::create_directories(dir, code))
    std::filesystem::permissions(dir, std::filesystem::perms{0750}, code);
  if (code) refuse(dir, code.message());
  if (!std::filesystem::is_directory(dir, code)) refuse(dir, "it is a file");
  const auto probe = dir / fmt::format(".probe-{}", ::getpid());
  const int fd = ::open(probe.c_str(), O_CREAT | O_WRONLY | O_CLOEXEC, 0640);
  if (fd < 0) {
    if (errno == ENOSPC || errno == EDQUOT) return;
    refuse(dir, why(errno));
  }
  ::close(fd);
  ::unlink(probe.c_str());
}

StateLock::StateLock(const std::filesystem::path& dir) {
  make_writable(dir);
  const auto file = dir / "lock";
  fd_ = ::open(file.c_str(), O_CREAT | O_RDWR | O_CLOEXEC, 0640);
  if (fd_ < 0) refuse(dir, why(errno));
  if (::flock(fd_, LOCK_EX | LOCK_NB) == 0) return;
  ::close(fd_);
  throw std::runtime_error{fmt::format("{}: another riserkeep is running with this state directory. Stop it first, or "
                                       "choose another one with --state DIR", dir.string())};
}

StateLock::~StateLock() { ::close(fd_); }

bool is_locked(const std::filesystem::path& dir) {
  const int fd = ::open((dir / "lock").c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return false;
  const bool free = ::flock(fd, LOCK_SH | LOCK_NB) == 0;
  ::close(fd);
  return !free;
}

}  // namespace riserkeep
