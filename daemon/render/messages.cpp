#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "daemon/render/parts.h"

namespace riserkeep::render {

std::string messages_text(const Json& m, const std::string& zone) {
  std::string out;
  const auto waiting = static_cast<long>(number(m, "undelivered")), given_up = static_cast<long>(number(m, "given_up_since_start"));
  if (waiting > 0)
    out += hanging("", fmt::format("Messages: {} not delivered yet, the oldest {} old.", waiting, span_text(m["oldest_age_s"])), 0);
  if (given_up > 0) out += hanging("", fmt::format("Messages: {} given up since the start.", given_up), 0);
  const bool any = m.contains("ways") && !m["ways"].empty();
  if (number(m, "people") > 0 && !any)
    out += hanging("", "Messages: nobody can be told anything, no way to people is set up (mail: or hook: in the site file).", 0);
  if (any)
    for (const auto& way : m["ways"])
      if (has(way, "last_error"))
        out += hanging("", fmt::format("Messages by {}: {}, since {}.", text(way, "way"), text(way, "last_error"),
                                       has(way, "failing_since") ? clock_of(way["failing_since"], zone) : "an unknown time"), 0);
  if (has(m, "heartbeat") && text(m, "heartbeat") != "well")
    out += hanging("", fmt::format("Heartbeat: {}.", text(m, "heartbeat")), 0);
  return out;
}

}  // namespace riserkeep::render
