#include "daemon/service/router.h"

#include <fmt/format.h>

#include <charconv>
#include <exception>
#include <optional>
#include <utility>

namespace riserkeep {
namespace {

std::vector<std::string> split_path(std::string_view path) {
  std::vector<std::string> parts;
  while (!path.empty()) {
    path.remove_prefix(1);
    const auto end = path.find('/');
    parts.emplace_back(path.substr(0, end));
    path = end == std::string_view::npos ? std::string_view{} : path.substr(end);
  }
  return parts;
}

std::optional<std::string> percent_decoded(std::string_view text, bool plus_is_space) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '+' && plus_is_space) { out += ' '; continue; }
    if (text[i] != '%') { out += text[i]; continue; }
    unsigned value = 0;
    if (i + 2 >= text.size()) return std::nullopt;
    const auto [end, error] = std::from_chars(text.data() + i + 1, text.data() + i + 3, value, 16);
    if (error != std::errc{} || end != text.data() + i + 3 || value == 0) return std::nullopt;
    out += static_cast<char>(value);
    i += 2;
  }
  return out;
}

std::optional<PathParts> match(const std::vector<std::string>& pattern, const std::vector<std::string>& path) {
  if (pattern.size() != path.size()) return std::nullopt;
  PathParts found;
  for (std::size_t i = 0; i < path.size(); ++i) {
    if (pattern[i] == "{}") found.push_back(path[i]);
    else if (pattern[i] != path[i]) return std::nullopt;
  }
  return found;
}

std::string quoted(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) < 0x20) out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    else out += c;
  }
  return out + '"';
}

}  // namespace

Reply problem(int status, std::string_view what) {
  return {status, "application/json", "{\"error\": " + quoted(what) + "}\n"};
}

bool split_target(std::string_view target, Request& request) {
  if (target.empty() || target.front() != '/') return false;
  const auto mark = target.find('?');
  auto path = percent_decoded(target.substr(0, mark), false);
  if (!path) return false;
  request.path = std::move(*path);
  request.query.clear();
  std::string_view rest = mark == std::string_view::npos ? std::string_view{} : target.substr(mark + 1);
  while (!rest.empty()) {
    const auto end = rest.find('&');
    const std::string_view item = rest.substr(0, end);
    rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
    const auto equal = item.find('=');
    auto key = percent_decoded(item.substr(0, equal), true);
    auto value = percent_decoded(equal == std::string_view::npos ? std::string_view{} : item.substr(equal + 1), true);
    if (!key || !value) return false;
    if (!key->empty()) request.query[*key] = std::move(*value);
  }
  return true;
}

void Router::add(std::string method, std::string_view pattern, Role role, Handler handler) {
  routes_.push_back({std::move(method), split_path(pattern), role, std::move(handler)});
}

void Router::handle(const Request& request, Answer answer) const {
  const auto path = split_path(request.path);
  const std::string method = request.method == "HEAD" ? "GET" : request.method;
  bool known = false;
  for (const auto& route : routes_) {
    const auto parts = match(route.parts, path);
    if (!parts) continue;
    known = true;
    if (route.method != method) continue;
    if (route.role == Role::operator_ && request.role != Role::operator_)
      return answer(problem(403, "only an operator may do this: join the group of the control socket"));
    try {
      return route.handler(request, *parts, answer);
    } catch (const std::exception& e) {
      return answer(problem(500, fmt::format("this answer could not be made: {}", e.what())));
    }
  }
  if (known) answer(problem(405, fmt::format("{} is not possible here", request.method)));
  else answer(problem(404, fmt::format("there is nothing at {}", request.path)));
}

}  // namespace riserkeep
