// From an HTTP request to an answer, whatever carried it: the Unix socket today. No I/O here. A handler may
// answer later (a command waits for the journal), once, on the loop thread.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace riserkeep {

enum class Role { reader, operator_ };   // may look; may also command

struct Request {
  std::string method, path;              // path without the query, percent-decoded
  std::map<std::string, std::string> query;
  std::string body, accept;
  Role role = Role::reader;
};

struct Reply {
  int status = 200;
  std::string type = "application/json", body;
};
Reply problem(int status, std::string_view what);   // {"error": "..."}

using Answer = std::function<void(Reply)>;
using PathParts = std::vector<std::string>;          // what stood for each {} of the pattern
using Handler = std::function<void(const Request&, const PathParts&, Answer)>;

// "/v1/a%20b?x=1" into path and query. False: not a path of ours.
bool split_target(std::string_view target, Request&);

class Router {
 public:
  // `pattern` as "/v1/systems/{}". GET also answers HEAD.
  void add(std::string method, std::string_view pattern, Role, Handler);
  void handle(const Request&, Answer) const;

 private:
  struct Route { std::string method; std::vector<std::string> parts; Role role; Handler handler; };
  std::vector<Route> routes_;
};

}  // namespace riserkeep
