// The demo's riser room for property tests: commissioned and purging, with an event text per effect.
#pragma once

#include <fstream>
#include <iterator>
#include <random>
#include <string>

#include "config/load/load.h"
#include "daemon/formats/event_json.h"
#include "daemon/rehearsal/commissioning.h"
#include "daemon/rehearsal/rehearsal.h"

namespace riserkeep {

inline Description example(const std::string& name, Purpose purpose = Purpose::rehearse) {
  const std::string path = std::string{RISERKEEP_SOURCE_DIR} + "/config/examples/" + name;
  Loaded loaded = load_site_file(path, purpose);
  if (!loaded.description) throw std::runtime_error(path + ": " + format_problem(loaded.problems.at(0)));
  return *loaded.description;
}

inline std::vector<std::string> commission_and_purge(Rehearsal& r) {
  r.run_for(minutes(20));
  return commission_and_purge(r, "R. Fitter");
}

// Fixed unless RISERKEEP_SEED says otherwise, so that a change is judged against the same weather.
inline std::uint64_t random_seed() {
  const char* given = std::getenv("RISERKEEP_SEED");
  return given ? std::strtoull(given, nullptr, 10) : 20'261'125;
}

}  // namespace riserkeep
