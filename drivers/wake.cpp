#include "drivers/wake.h"

#include <poll.h>
#include <pthread.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <cstdint>
#include <system_error>

namespace riserkeep {

Wake::Wake() : fd_(eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC)) {
  if (fd_ < 0) throw std::system_error(errno, std::generic_category(), "eventfd");
}

Wake::~Wake() { close(fd_); }

void Wake::ring() {
  const std::uint64_t one = 1;
  while (write(fd_, &one, sizeof one) < 0 && errno == EINTR) {}
}

void Wake::wait(std::chrono::milliseconds longest) {
  pollfd waiting{fd_, POLLIN, 0};
  const auto ms = std::clamp<std::int64_t>(longest.count(), 0, 60'000);
  if (poll(&waiting, 1, static_cast<int>(ms)) <= 0) return;
  std::uint64_t rings = 0;
  while (read(fd_, &rings, sizeof rings) < 0 && errno == EINTR) {}
}

void block_signals() {
  sigset_t all;
  sigfillset(&all);
  for (const int fault : {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT}) sigdelset(&all, fault);
  pthread_sigmask(SIG_BLOCK, &all, nullptr);
}

void name_thread(const char* name) { pthread_setname_np(pthread_self(), name); }

}  // namespace riserkeep
