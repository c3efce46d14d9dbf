// The demo's riser room for property tests: commissioned and purging, with an event text per effect.
#pragma once

#include <fstream>
#include <iterator>
#include <random>
#include <string>

#include "config/load/load.h"
#include "daemon/formats/event_json.h"
#include "daemon/rehearsal/rehearsal.h"
#include "rules/units.h"

namespace riserkeep {

inline Description example(const std::string& name, Purpose purpose = Purpose::rehearse) {
  const std::string path = std::string{RISERKEEP_SOURCE_DIR} + "/config/examples/" + name;
  Loaded loaded = load_site_file(path, purpose);
  if (!loaded.description) throw std::runtime_error(path + ": " + format_problem(loaded.problems.at(0)));
  return *loaded.description;
}

// Every vent is proved before the first purge begins: a purge would take the turn.
inline std::vector<std::string> commission_and_purge(Rehearsal& r) {
  std::vector<std::string> refusals;
  r.run_for(minutes(20));
  const Site& site = r.engine().site();
  const auto noted = [&](SystemId id, const std::string& why) {
    if (!why.empty()) refusals.push_back(site[id].id + ": " + why);
  };
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    const std::string why = r.command("R. Fitter", Commission{id, true, in_psi(r.room().truth(id).pressure)});
    for (int minute = 0; why.empty() && minute < 120 && !r.engine().view().vent(id).commissioning.done; ++minute) r.run_for(minutes(1));
    noted(id, why);
  }
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const SystemId id{static_cast<std::uint16_t>(i)};
    noted(id, r.command("R. Fitter", SetMode{id, Mode::purge}));
  }
  return refusals;
}

// Fixed unless RISERKEEP_SEED says otherwise, so that a change is judged against the same weather.
inline std::uint64_t random_seed() {
  const char* given = std::getenv("RISERKEEP_SEED");
  return given ? std::strtoull(given, nullptr, 10) : 20'261'125;
}

}  // namespace riserkeep
