#include "daemon/commands/plant.h"

#include <doctest/doctest.h>

#include <string>

#include "config/load/load.h"
#include "drivers/plant/server.h"

using namespace riserkeep;

namespace {
const std::string kDemo = RISERKEEP_SOURCE_DIR "/config/examples/demo.yaml";
}

TEST_CASE("plant command: what cannot start ends at once with its exit code") {
  CHECK(plant_command("/nowhere/site.yaml", 0, 1, 1.0, false) == 2);
  CHECK(plant_command(kDemo, 0, 1, 0.0, false) == 2);
  CHECK(plant_command(kDemo, 0, 1, -1.0, false) == 2);
  CHECK(plant_command(kDemo, 70000, 1, 1.0, false) == 1);
}

TEST_CASE("plant command: a port in use ends it with 1") {
  const Loaded loaded = load_site_file(kDemo, Purpose::rehearse);
  REQUIRE(loaded.description);
  SimulatedRoom room(loaded.description->site, default_scenario(loaded.description->site, 1));
  PlantServer other(room, loaded.description->wiring, loaded.description->site, 0);
  CHECK(plant_command(kDemo, other.port(), 1, 1.0, true) == 1);
}
