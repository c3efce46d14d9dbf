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

std::string sentence(const SiteView& v, SystemId id, const Permit& permit) {
  const VentState& vent = v.vent(id);
  const std::string mode = fmt::format("Mode is {}", word(vent.mode));
  if (is_open(v, id)) {
    const Duration open = vent.opened_at ? v.now - *vent.opened_at : Duration{};
    return fmt::format("{}; open for {}, {}.", mode, duration_text(open), word(vent.phase));
  }
  const auto refusals = permit.refusals();
  if (refusals.empty()) {
    if (vent.phase != VentPhase::idle)
      return fmt::format("{}; its turn is on: {} since {}.", mode, word(vent.phase),
                         duration_text(v.now - vent.phase_since));
    if (vent.earliest_next && *vent.earliest_next > v.now)
      return fmt::format("{}; all permits it, and it rests for another {}.", mode,
                         duration_text(*vent.earliest_next - v.now));
    return mode + "; all permits it: it waits for its turn.";
  }
  return fmt::format("{}; {} in the way: {}.", mode,
                     refusals.size() == 1 ? "one thing stands" : fmt::format("{} things stand", refusals.size()),
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
    for (const auto& check : verdict.checks)
      j["checks"].push_back(Json{{"what", check.what}, {"asked", check.asked}, {"ok", check.ok}, {"now", check.now},
                                 {"needs", check.needs}});
    j["findings"] = findings(view.vent(id).findings);
  }
  j["alarms"] = resources::alarm_list(labels, id);
  return j.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace riserkeep
