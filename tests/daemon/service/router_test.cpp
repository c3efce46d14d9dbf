#include "daemon/service/router.h"

#include <doctest/doctest.h>

namespace riserkeep {
namespace {

Request request(std::string method, std::string_view target, Role role = Role::reader) {
  Request r;
  r.method = std::move(method);
  r.role = role;
  REQUIRE(split_target(target, r));
  return r;
}

int status(const Router& router, const Request& r) {
  int got = 0;
  router.handle(r, [&](const Reply& reply) { got = reply.status; });
  return got;
}

TEST_CASE("a target is split as RFC 3986 writes it") {
  const Request r = request("GET", "/v1/a%20b/%2fc?x=1&name=Ann+Lee&y");
  CHECK(r.path == "/v1/a b//c");
  CHECK(r.query.at("x") == "1");
  CHECK(r.query.at("name") == "Ann Lee");
  CHECK(r.query.at("y").empty());

  Request bad;
  for (const char* target : {"", "v1", "/%", "/%4", "/%zz", "/a?b=%q1", "/%00"}) CHECK_FALSE(split_target(target, bad));
}

TEST_CASE("a route is found by method and path, and only for the role it asks for") {
  Router router;
  router.add("GET", "/v1/systems/{}/why", Role::reader,
             [](const Request&, const PathParts& p, const Answer& answer) { answer({200, "text/plain", p.at(0)}); });
  router.add("POST", "/v1/commands/{}", Role::operator_,
             [](const Request&, const PathParts&, const Answer& answer) { answer({200, "text/plain", ""}); });
  CHECK(status(router, request("GET", "/v1/systems/dock/why")) == 200);
  CHECK(status(router, request("HEAD", "/v1/systems/dock/why")) == 200);
  CHECK(status(router, request("GET", "/v1/systems/dock")) == 404);
  CHECK(status(router, request("GET", "/v1/systems/dock/why/not")) == 404);
  CHECK(status(router, request("DELETE", "/v1/systems/dock/why")) == 405);
  CHECK(status(router, request("POST", "/v1/commands/ack")) == 403);
  CHECK(status(router, request("POST", "/v1/commands/ack", Role::operator_)) == 200);
}

TEST_CASE("a problem is valid JSON whatever its text") {
  CHECK(problem(400, "a \"b\" \\ \n c").body == "{\"error\": \"a \\\"b\\\" \\\\ \\u000a c\"}\n");
}

}  // namespace
}  // namespace riserkeep
