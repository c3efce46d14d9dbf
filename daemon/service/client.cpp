#include "daemon/service/client.h"

#include <fmt/format.h>
#include <sys/un.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <utility>

namespace riserkeep {
namespace {

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using Local = net::local::stream_protocol;

std::string_view view_of(beast::string_view s) { return {s.data(), s.size()}; }

std::string in_words(const std::string& path, const beast::error_code& e) {
  if (e == net::error::access_denied)
    return fmt::format("{} may not be opened by this user: join the group riserkeep, or use sudo", path);
  if (e == beast::error::timeout) return fmt::format("no answer over {} in time: the daemon hangs or is very busy", path);
  return fmt::format("{}: {}", path, e.message());
}

}  // namespace

std::string percent_encoded(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
                       c == '_' || c == '.' || c == '~';
    if (plain) out += c;
    else out += fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

ClientAnswer ask(const std::string& path, std::string_view method, std::string_view target, std::string body,
                 std::chrono::milliseconds limit) {
  using Outcome = ClientAnswer::Outcome;
  if (path.size() >= sizeof(sockaddr_un{}.sun_path))
    return {Outcome::failed, {}, fmt::format("the path of the control socket is too long: {}", path)};
  net::io_context io;
  beast::basic_stream<Local> stream(io);
  http::request<http::string_body> request{http::string_to_verb({method.data(), method.size()}),
                                           {target.data(), target.size()}, 11};
  request.set(http::field::host, "localhost");
  if (!body.empty()) request.set(http::field::content_type, "application/json");
  request.body() = std::move(body);
  request.prepare_payload();
  beast::flat_buffer buffer;
  http::response_parser<http::string_body> parser;
  parser.body_limit(64 * 1024 * 1024);
  beast::error_code failed, connecting;

  stream.expires_after(limit);
  stream.async_connect(Local::endpoint(path), [&](beast::error_code e) {
    if ((connecting = e)) return;
    http::async_write(stream, request, [&](beast::error_code written, std::size_t) {
      if ((failed = written)) return;
      http::async_read(stream, buffer, parser, [&](beast::error_code got, std::size_t) { failed = got; });
    });
  });
  io.run();

  if (connecting == beast::errc::no_such_file_or_directory || connecting == net::error::connection_refused)
    return {Outcome::not_running, {}, fmt::format("riserkeep is not running: nobody answers at {}", path)};
  if (connecting || failed) return {Outcome::failed, {}, in_words(path, connecting ? connecting : failed)};
  auto& got = parser.get();
  return {Outcome::answered,
          {static_cast<int>(got.result_int()), std::string(view_of(got[http::field::content_type])),
           std::move(got.body())}, {}};
}

}  // namespace riserkeep
