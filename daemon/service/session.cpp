#include "daemon/service/session.h"

#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <system_error>
#include <utility>
#include <vector>

namespace riserkeep {
namespace {

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using Local = net::local::stream_protocol;
using Stream = beast::basic_stream<Local, net::any_io_executor>;

// Who is at the other end: root, our own user, and members of our group may command.
Role role_of(Local::socket& socket) {
  const int fd = socket.native_handle();
  ucred peer{};
  socklen_t size = sizeof peer;
  if (getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &size) != 0) return Role::reader;
  if (peer.uid == 0 || peer.uid == geteuid() || peer.gid == getegid()) return Role::operator_;
  std::vector<gid_t> groups(256);
  size = static_cast<socklen_t>(groups.size() * sizeof(gid_t));
  if (getsockopt(fd, SOL_SOCKET, SO_PEERGROUPS, groups.data(), &size) != 0) return Role::reader;
  groups.resize(size / sizeof(gid_t));
  return std::ranges::find(groups, getegid()) != groups.end() ? Role::operator_ : Role::reader;
}

class Session : public std::enable_shared_from_this<Session> {
 public:
  Session(Local::socket socket, const Router& router, SessionLimits limits, std::shared_ptr<std::size_t> open)
      : role_(role_of(socket)), stream_(std::move(socket)), router_(router), limits_(limits), open_(std::move(open)) {
    ++*open_;
  }
  ~Session() { --*open_; }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void read() {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(limits_.header_bytes));
    parser_->body_limit(limits_.body_bytes);
    stream_.expires_after(limits_.request);    // once, for the whole request
    http::async_read(stream_, buffer_, *parser_, [self = shared_from_this()](beast::error_code e, std::size_t) {
      self->was_read(e);
    });
  }

 private:
  void was_read(beast::error_code e) {
    if (e == http::error::header_limit) return refuse(problem(431, "the header is larger than 8 KiB"));
    if (e == http::error::body_limit) return refuse(problem(413, "the body is larger than 64 KiB"));
    if (e == beast::error::timeout || e == http::error::end_of_stream) return close();
    if (e && e.category() == http::make_error_code(http::error::bad_method).category())
      return refuse(problem(400, "this is not an HTTP request: " + e.message()));
    if (e) return;
    Request request;
    const auto& got = parser_->get();
    request.method = std::string(got.method_string());
    request.accept = std::string(got[http::field::accept]);
    request.body = got.body();
    request.role = role_;
    keep_ = got.keep_alive();
    head_ = request.method == "HEAD";
    if (!split_target(std::string_view(got.target().data(), got.target().size()), request))
      return refuse(problem(400, "the path cannot be read"));
    stream_.expires_never();
    router_.handle(request, [self = shared_from_this(), once = std::make_shared<bool>(false)](Reply reply) {
      if (!std::exchange(*once, true)) self->write(std::move(reply));
    });
  }

  void refuse(Reply reply) {
    keep_ = false;
    write(std::move(reply));
  }

  void write(Reply reply) {
    response_ = {};
    response_.version(11);
    response_.result(static_cast<unsigned>(reply.status));
    response_.set(http::field::content_type, reply.type);
    response_.set(http::field::cache_control, "no-store");
    response_.keep_alive(keep_);
    const std::size_t length = reply.body.size();
    if (!head_) response_.body() = std::move(reply.body);
    response_.content_length(length);
    stream_.expires_after(limits_.reply);
    http::async_write(stream_, response_, [self = shared_from_this()](beast::error_code e, std::size_t) {
      if (e) return;
      if (self->keep_) self->read();
      else self->close();
    });
  }

  void close() {
    beast::error_code ignored;
    stream_.socket().shutdown(Local::socket::shutdown_send, ignored);
  }

  Role role_;
  Stream stream_;
  const Router& router_;
  SessionLimits limits_;
  std::shared_ptr<std::size_t> open_;
  beast::flat_buffer buffer_{128 * 1024};
  std::optional<http::request_parser<http::string_body>> parser_;
  http::response<http::string_body> response_;
  bool keep_ = false, head_ = false;
};

}  // namespace

class ControlServer::Listener : public std::enable_shared_from_this<Listener> {
 public:
  Listener(net::io_context& io, std::string path, const Router& router, SessionLimits limits)
      : acceptor_(io), pause_(io), path_(std::move(path)), router_(router), limits_(limits) {
    if (path_.size() >= sizeof(sockaddr_un{}.sun_path))
      throw std::system_error(ENAMETOOLONG, std::generic_category(), "control socket " + path_);
    ::unlink(path_.c_str());       // a left-over: the state directory is locked, nobody else listens
    try {
      acceptor_.open(Local());
      acceptor_.bind(Local::endpoint(path_));
      acceptor_.listen();
    } catch (const boost::system::system_error& e) {
      throw std::system_error(e.code().value(), std::generic_category(), "control socket " + path_);
    }
    if (::chmod(path_.c_str(), 0660) != 0) throw std::system_error(errno, std::generic_category(), "chmod " + path_);
  }

  void accept() {
    acceptor_.async_accept([self = shared_from_this()](beast::error_code e, Local::socket socket) {
      if (e == net::error::operation_aborted || self->closed_) return;
      if (e) return self->wait();  // out of descriptors: no spinning
      if (*self->open_ < self->limits_.connections)
        std::make_shared<Session>(std::move(socket), self->router_, self->limits_, self->open_)->read();
      self->accept();
    });
  }

  void close() {
    closed_ = true;
    beast::error_code ignored;
    acceptor_.close(ignored);
    pause_.cancel();
    ::unlink(path_.c_str());
  }

 private:
  void wait() {
    pause_.expires_after(std::chrono::milliseconds(100));
    pause_.async_wait([self = shared_from_this()](beast::error_code e) {
      if (!e && !self->closed_) self->accept();
    });
  }

  Local::acceptor acceptor_;
  net::steady_timer pause_;
  std::string path_;
  const Router& router_;
  SessionLimits limits_;
  std::shared_ptr<std::size_t> open_ = std::make_shared<std::size_t>(0);
  bool closed_ = false;
};

ControlServer::ControlServer(net::io_context& io, std::string path, const Router& router, SessionLimits limits)
    : listener_(std::make_shared<Listener>(io, std::move(path), router, limits)) {
  listener_->accept();
}
ControlServer::~ControlServer() { listener_->close(); }

}  // namespace riserkeep
