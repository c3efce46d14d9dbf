#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "daemon/service/resources_parts.h"
#include "rules/text.h"
#include "rules/venting/explain.h"
#include "rules/venting/venting.h"

namespace riserkeep {
namespace {

using resources::Json;
using resources::Labels;

std::string listed(const std::vector<Refusal>& refusals) {
  std::string out;
  for (std::size_t i = 0; i < refusals.size(); ++i)
    out += fmt::format("{}{}", i == 0 ? "" : i + 1 == refusals.size() ? " and " : ", ", refusals[i].what);
  return out;
}

bool is_open(const SiteView& v, SystemId id) {
  return v.outputs[v.site[id].vent->output.index].state == OutputState::open;
}

// The headline of the vent decision, and how much stands in the way.
std::string sentence(const SiteView& v, SystemId id, const Permit& permit) {
  const std::string headline = fmt::format("Mode is {}. {}", word(v.vent(id).mode), explain_headline(v, id));
  const auto refusals = permit.refusals();
  if (is_open(v, id) || refusals.empty()) return headline;
  return fmt::format("{} {} in the way: {}.", headline,
                     refusals.size() == 1 ? "One thing stands" : fmt::format("{} things stand", refusals.size()),
                     listed(refusals));
}

Json findings(const VentFindings& f) {
  Json list = Json::array();
  const auto add = [&list](const std::optional<EngineTime>& since, std::string_view what, const std::string& why) {
    if (since) list.push_back(why.empty() ? std::string(what) : fmt::format("{}: {}", what, why));
  };
  add(f.blocked, "vent blocked", f.blocked_why);
  add(f.stuck_open, "vent stuck open", f.stuck_why);
  add(f.mismatch, "output does not follow", f.mismatch_why);
  add(f.stalled, "purge stalled", f.stall_why);
  return list;
}

}  // namespace

std::string why_json(const SiteView& view, SystemId id, WallOffset offset) {
  const Labels labels{view, offset};
  const System& system = view.site[id];
  Json j;
  j["format"] = 1;
  j["site"] = Json{{"id", view.site.id}, {"name", view.site.name}, {"time_zone", view.site.time_zone}};
  j["time"] = labels.time(view.now);
  j["system"] = resources::system_document(labels, id);
  j["checks"] = Json::array();
  if (!system.vent) {
    j["question"] = "why is there no venting?";
    j["sentence"] = "This system has no vent in the site file; nothing here opens one.";
  } else {
    const bool open = is_open(view, id);
    const Permit verdict = permit(view, id, open);
    j["question"] = fmt::format("why is the vent {}?", resources::vent_word(view, id));
    j["sentence"] = sentence(view, id, verdict);
    j["next_look"] = labels.time(next_look(view, id));
    for (const auto& check : verdict.checks)
      j["checks"].push_back(Json{{"what", check.what}, {"asked", check.asked}, {"ok", check.ok}, {"now", check.now},
                                 {"needs", check.needs}});
    j["findings"] = findings(view.vent(id).findings);
  }
  j["alarms"] = resources::alarm_list(labels, id);
  return j.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace riserkeep
