// Commands about who is told of what, and about work on the site.
#include <fmt/format.h>

#include <array>
#include <nlohmann/json.hpp>

#include "daemon/service/command_parts.h"

namespace riserkeep::command {
namespace {

constexpr double kLongestSeconds = 86'400.0 * 400;
constexpr std::size_t kLongestReason = 200;

// "for_s": whole and broken seconds; zero when it is not there.
Duration how_long(const Json& body) {
  const auto s = number_of(body, "for_s");
  if (!s) return {};
  if (*s <= 0 || *s > kLongestSeconds) throw Wrong("\"for_s\" must be a time in seconds, more than 0");
  return from_seconds(*s);
}

AlarmTarget target_of(const Json& body) { return {text_of(body, "target", 200)}; }

struct ChoreWord { std::string_view word; ChoreKind kind; };
constexpr std::array<ChoreWord, 5> kChores{{{"gauge-comparison", ChoreKind::gauge_comparison},
                                            {"air-check", ChoreKind::air_check},
                                            {"hand-reading", ChoreKind::hand_reading},
                                            {"leak-test", ChoreKind::leak_test},
                                            {"low-point-drains", ChoreKind::low_point_drains}}};

ChoreKind chore_kind(const std::string& said) {
  std::string words;
  for (const auto& c : kChores) {
    if (c.word == said) return c.kind;
    words += fmt::format("{}{}", words.empty() ? "" : ", ", c.word);
  }
  throw Wrong(fmt::format("\"{}\" is no chore; there are: {}", said, words));
}

}  // namespace

What shelve(const Site&, const Json& body) {
  return Shelve{target_of(body), how_long(body), flag_of(body, "until_clear", false), text_of(body, "why", kLongestReason, false)};
}

What unshelve(const Site&, const Json& body) { return Unshelve{target_of(body)}; }

What out_of_service(const Site&, const Json& body) {
  return OutOfService{target_of(body), flag_of(body, "out", true), text_of(body, "why", kLongestReason, false)};
}

What work_start(const Site& site, const Json& body) {
  return WorkStart{system_of(site, body), text_of(body, "what", kLongestReason), how_long(body)};
}

What work_end(const Site& site, const Json& body) {
  return WorkEnd{system_of(site, body), flag_of(body, "reset", false), flag_of(body, "drained", false),
                 flag_of(body, "water_valve_open", false), text_of(body, "gas", 20, false), text_of(body, "except", kLongestReason, false)};
}

What chore(const Site& site, const Json& body) {
  return ChoreDone{place_of(site, body), chore_kind(text_of(body, "chore", 40)), number_of(body, "as_found"),
                   number_of(body, "as_left"), text_of(body, "remark", kLongestReason, false)};
}

What repair(const Site& site, const Json& body) { return Repair{place_of(site, body), text_of(body, "what", kLongestReason)}; }

}  // namespace riserkeep::command
