#include "daemon/service/session.h"

#include <doctest/doctest.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <chrono>
#include <filesystem>
#include <optional>
#include <thread>

#include "daemon/service/client.h"

namespace riserkeep {
namespace {

using namespace std::chrono_literals;

struct Folder {
  std::filesystem::path path;
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "riserkeep-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Folder() { std::filesystem::remove_all(path); }
};

// A control server on a thread of its own, as the loop would run it.
struct Served {
  Folder folder;
  Router router;
  boost::asio::io_context io;
  std::string socket = (folder.path / "control.sock").string();
  std::optional<ControlServer> server;
  std::jthread thread;

  explicit Served(SessionLimits limits = {}) {
    router.add("GET", "/v1/systems/{}", Role::reader, [](const Request&, const PathParts& p, Answer answer) {
      answer({200, "text/plain", "system " + p[0]});
    });
    router.add("POST", "/v1/echo", Role::operator_, [this](const Request& r, const PathParts&, Answer answer) {
      boost::asio::post(io, [answer, body = r.body] { answer({200, "text/plain", body}); });
    });
    router.add("GET", "/v1/broken", Role::reader,
               [](const Request&, const PathParts&, const Answer&) { throw std::runtime_error("no such figure"); });
    router.add("GET", "/v1/never", Role::reader, [](const Request&, const PathParts&, const Answer&) {});
    server.emplace(io, socket, router, limits);
    thread = std::jthread([this] { io.run(); });
  }
  ~Served() { io.stop(); }
};

int dial(const std::string& path) {
  const int fd = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  path.copy(address.sun_path, sizeof address.sun_path - 1);
  REQUIRE(::connect(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
  const timeval patience{5, 0};
  ::setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
  return fd;
}

std::string read_all(int fd) {
  std::string all;
  char piece[4096];
  for (ssize_t n = 0; (n = ::read(fd, piece, sizeof piece)) > 0;) all.append(piece, static_cast<std::size_t>(n));
  return all;
}

bool say(int fd, std::string_view text) {
  return ::send(fd, text.data(), text.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(text.size());
}

TEST_CASE("the control socket answers, and is open to its group only") {
  Served served;
  struct stat file{};
  REQUIRE(::stat(served.socket.c_str(), &file) == 0);
  CHECK((file.st_mode & 0777) == 0660);

  const auto one = ask(served.socket, "GET", "/v1/systems/loading%20dock");
  REQUIRE(one.outcome == ClientAnswer::Outcome::answered);
  CHECK(one.reply.status == 200);
  CHECK(one.reply.body == "system loading dock");
  CHECK(one.reply.type == "text/plain");

  const auto echo = ask(served.socket, "POST", "/v1/echo", std::string(60'000, 'x'));
  CHECK(echo.reply.status == 200);
  CHECK(echo.reply.body.size() == 60'000);

  CHECK(ask(served.socket, "GET", "/v1/nothing").reply.status == 404);
  CHECK(ask(served.socket, "POST", "/v1/systems/a").reply.status == 405);
  const auto broken = ask(served.socket, "GET", "/v1/broken");
  CHECK(broken.reply.status == 500);
  CHECK(broken.reply.body.find("no such figure") != std::string::npos);
}

TEST_CASE("nobody there is told apart from a daemon that hangs") {
  Folder folder;
  CHECK(ask((folder.path / "control.sock").string(), "GET", "/v1/systems").outcome == ClientAnswer::Outcome::not_running);
  CHECK(ask("/tmp/" + std::string(200, 'x'), "GET", "/").outcome == ClientAnswer::Outcome::failed);

  Served served;
  const auto hangs = ask(served.socket, "GET", "/v1/never", {}, 200ms);
  CHECK(hangs.outcome == ClientAnswer::Outcome::failed);
}

TEST_CASE("a body or a header over its limit is refused with its status") {
  Served served;
  const auto big = ask(served.socket, "POST", "/v1/echo", std::string(65 * 1024, 'x'));
  REQUIRE(big.outcome == ClientAnswer::Outcome::answered);
  CHECK(big.reply.status == 413);

  const int fd = dial(served.socket);
  CHECK(say(fd, "GET /v1/systems/a HTTP/1.1\r\nX-Long: " + std::string(9'000, 'y') + "\r\n\r\n"));
  CHECK(read_all(fd).starts_with("HTTP/1.1 431"));
  ::close(fd);
}

TEST_CASE("what is no HTTP is answered with 400 and closed") {
  Served served;
  const int fd = dial(served.socket);
  CHECK(say(fd, "\x01\x02\x03 what is this\r\n\r\n"));
  CHECK(read_all(fd).starts_with("HTTP/1.1 400"));
  ::close(fd);
}

TEST_CASE("a client that drips bytes is cut at the deadline of the whole request, others are served meanwhile") {
  SessionLimits limits;
  limits.request = 400ms;
  Served served(limits);
  const int fd = dial(served.socket);
  const auto begin = std::chrono::steady_clock::now();
  const std::string_view request = "GET /v1/systems/abcdefghijklmnopqrstuvwxyz HTTP/1.1\r\n";
  bool cut = false;
  for (std::size_t i = 0; i < request.size() && !cut; ++i) {
    say(fd, request.substr(i, 1));
    std::this_thread::sleep_for(40ms);
    char byte = 0;
    cut = ::recv(fd, &byte, 1, MSG_DONTWAIT) == 0;
    if (i == 3) CHECK(ask(served.socket, "GET", "/v1/systems/b").reply.status == 200);
  }
  CHECK(cut);
  CHECK(std::chrono::steady_clock::now() - begin < 1500ms);
  ::close(fd);
}

TEST_CASE("connections over the limit are dropped and a freed place is given again") {
  SessionLimits limits;
  limits.connections = 2;
  Served served(limits);
  const int a = dial(served.socket), b = dial(served.socket), c = dial(served.socket);
  CHECK(read_all(c).empty());
  ::close(c);
  ::close(a);
  ClientAnswer again;
  for (int i = 0; i < 100 && again.outcome != ClientAnswer::Outcome::answered; ++i) {
    again = ask(served.socket, "GET", "/v1/systems/d");
    std::this_thread::sleep_for(10ms);
  }
  CHECK(again.reply.status == 200);
  ::close(b);
}

TEST_CASE("several requests share one connection") {
  Served served;
  const int fd = dial(served.socket);
  CHECK(say(fd, "GET /v1/systems/a HTTP/1.1\r\n\r\nGET /v1/systems/b HTTP/1.1\r\nConnection: close\r\n\r\n"));
  const std::string all = read_all(fd);
  CHECK(all.find("system a") != std::string::npos);
  CHECK(all.find("system b") != std::string::npos);
  ::close(fd);
}

}  // namespace
}  // namespace riserkeep
