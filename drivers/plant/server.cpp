#include "drivers/plant/server.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <mutex>
#include <span>
#include <system_error>
#include <utility>
#include <vector>

#include "drivers/plant/console.h"
#include "drivers/plant/devices.h"

namespace riserkeep {

namespace {
using Steady = std::chrono::steady_clock;
constexpr std::size_t kMostClients = 32;
constexpr std::size_t kHeader = 7, kLongestFrame = 260;  // MBAP; Modbus Messaging on TCP/IP V1.0b
constexpr auto kIdle = std::chrono::minutes(10);
constexpr double kLongestPause = 1000.0;  // ms of real time that one step may catch up after a pause

class Socket {
 public:
  explicit Socket(int fd = -1) : fd_(fd) {}
  Socket(Socket&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  Socket& operator=(Socket&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  ~Socket() {
    if (fd_ >= 0) ::close(fd_);
  }
  int fd() const { return fd_; }

 private:
  int fd_;
};

struct Client {
  Socket socket;
  std::vector<std::uint8_t> received;
  Steady::time_point last;
};

[[noreturn]] void fail(const char* what) { throw std::system_error(errno, std::generic_category(), what); }

Socket listener(int port) {
  if (port < 0 || port > 65535) throw std::system_error(EINVAL, std::generic_category(), "port");
  Socket s(::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0));
  if (s.fd() < 0) fail("socket");
  const int on = 1;
  ::setsockopt(s.fd(), SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
  sockaddr_in at{};
  at.sin_family = AF_INET;
  at.sin_port = htons(static_cast<std::uint16_t>(port));
  at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  const void* where = &at;
  if (::bind(s.fd(), static_cast<const sockaddr*>(where), sizeof at) != 0) fail("bind");
  if (::listen(s.fd(), 16) != 0) fail("listen");
  return s;
}

int port_of(const Socket& s) {
  sockaddr_in at{};
  socklen_t size = sizeof at;
  void* where = &at;
  if (::getsockname(s.fd(), static_cast<sockaddr*>(where), &size) != 0) fail("getsockname");
  return ntohs(at.sin_port);
}

EngineTime real_time(Steady::time_point t) {
  return EngineTime{std::chrono::duration_cast<Duration>(t.time_since_epoch())};
}
}  // namespace

struct PlantServer::Inside {
  Inside(SimulatedRoom& r, const Wiring& w, const Site& s, int wanted, double scale)
      : room(r),
        site(s),
        devices(r, w, s),
        listening(listener(wanted)),
        port(port_of(listening)),
        time_scale(scale) {}

  void accept_all();
  bool receive(Client&);  // false: close it
  bool answer_frames(Client&);
  bool answer(Client&, std::span<const std::uint8_t> frame);
  void advance();

  SimulatedRoom& room;
  const Site& site;
  plant::Devices devices;
  Socket listening;
  int port;
  double time_scale, owed = 0;  // owed: ms of simulated time below one
  std::vector<Client> clients;
  std::mutex guard;  // room and devices
  Steady::time_point last_advance = Steady::now();
};

void PlantServer::Inside::accept_all() {
  for (;;) {
    Socket s(::accept4(listening.fd(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC));
    if (s.fd() < 0) return;
    if (clients.size() >= kMostClients) continue;
    const int on = 1;
    ::setsockopt(s.fd(), IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    clients.push_back({std::move(s), {}, Steady::now()});
  }
}

bool PlantServer::Inside::receive(Client& c) {
  std::uint8_t buffer[1024];
  const ssize_t n = ::recv(c.socket.fd(), buffer, sizeof buffer, 0);
  if (n < 0) return errno == EAGAIN || errno == EINTR;
  if (n == 0) return false;
  c.received.insert(c.received.end(), buffer, buffer + n);
  c.last = Steady::now();
  return answer_frames(c);
}

bool PlantServer::Inside::answer_frames(Client& c) {
  for (;;) {
    const auto& in = c.received;
    if (in.size() < kHeader) return true;
    const std::size_t length = in[4] * 256U + in[5];  // unit id and what follows
    if (in[2] != 0 || in[3] != 0 || length < 2 || length > kLongestFrame - 6) return false;
    if (in.size() < 6 + length) return true;
    if (!answer(c, std::span(in).first(6 + length))) return false;
    c.received.erase(c.received.begin(), c.received.begin() + static_cast<std::ptrdiff_t>(6 + length));
  }
}

bool PlantServer::Inside::answer(Client& c, std::span<const std::uint8_t> frame) {
  std::optional<plant::Bytes> body;
  {
    const std::scoped_lock lock(guard);
    body = devices.answer(frame[6], frame.subspan(kHeader), real_time(Steady::now()));
  }
  if (!body) return true;
  const auto length = static_cast<std::uint16_t>(body->size() + 1);
  plant::Bytes out(frame.begin(), frame.begin() + 4);
  out.push_back(static_cast<std::uint8_t>(length >> 8U));
  out.push_back(static_cast<std::uint8_t>(length & 0xffU));
  out.push_back(frame[6]);
  out.insert(out.end(), body->begin(), body->end());
  // A client that does not even take one short answer is let go.
  return ::send(c.socket.fd(), out.data(), out.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(out.size());
}

void PlantServer::Inside::advance() {
  const auto now = Steady::now();
  const double passed = std::chrono::duration<double, std::milli>(now - last_advance).count();
  last_advance = now;
  const std::scoped_lock lock(guard);
  owed += std::min(passed, kLongestPause) * time_scale;
  const Duration whole{static_cast<std::int64_t>(owed)};
  owed -= static_cast<double>(whole.count());
  room.advance(whole);
  devices.drop_idle_relays(real_time(now));
}

PlantServer::PlantServer(SimulatedRoom& room, const Wiring& wiring, const Site& site, int port, double time_scale)
    : inside_(std::make_unique<Inside>(room, wiring, site, port, time_scale)) {}
PlantServer::~PlantServer() = default;

int PlantServer::port() const { return inside_->port; }

std::vector<std::string> PlantServer::conflicts() const { return inside_->devices.conflicts(); }

void PlantServer::step(Duration longest_wait) {
  Inside& in = *inside_;
  std::vector<pollfd> waits{{in.listening.fd(), POLLIN, 0}};
  for (const Client& c : in.clients) waits.push_back({c.socket.fd(), POLLIN, 0});
  const int ready = ::poll(waits.data(), waits.size(), static_cast<int>(longest_wait.count()));
  in.advance();
  if (ready > 0) {
    for (std::size_t i = waits.size() - 1; i >= 1; --i)
      if (waits[i].revents != 0 && !in.receive(in.clients[i - 1]))
        in.clients.erase(in.clients.begin() + static_cast<std::ptrdiff_t>(i - 1));
    if (waits[0].revents != 0) in.accept_all();
  }
  const auto now = Steady::now();
  std::erase_if(in.clients, [now](const Client& c) { return now - c.last > kIdle; });
}

void PlantServer::run(const std::atomic<bool>& stop) {
  while (!stop) step(milliseconds(20));
}

std::string PlantServer::command(const std::string& line) {
  const std::scoped_lock lock(inside_->guard);
  return plant::room_command(inside_->room, inside_->site, line);
}

}  // namespace riserkeep
