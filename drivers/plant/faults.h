// Faults a person may cause in the simulated room, and the words for them.
#pragma once

#include <string>
#include <string_view>
#include <variant>

#include "rules/site.h"

namespace riserkeep {

enum class FaultKind : std::uint8_t {
  leak,            // system; amount: psi in 24 h at 40 psi, on top of what leaks already
  vent_stuck,      // system: the vent stays as it is until it opens, then never shuts
  vent_blocked,    // system; amount: percent of the bore that is lost
  gauge_frozen,    // system: the transducer repeats its last value
  gauge_dead,      // system: the transducer gives nothing
  gauge_offset,    // system; amount: psi added to the reading
  sprinkler_open,  // system: an open head, the valve trips as the pressure falls
  waterflow,       // system: the contact closes
  fire,            // system: the contact closes
  dead,            // supply or analyser
  impure,          // supply; amount: percent oxygen
  air_bypass,      // supply: it feeds air, and the contact says so
  frozen,          // analyser repeats its last value
  offset,          // analyser; amount: percent oxygen added
  silent,          // link: nothing on it answers
  unit_silent,     // amount: Modbus unit that does not answer
  lockout,         // room: the switch is on
  power_cut,       // everything but the pipes: outputs fall to safe, supplies stop, nothing answers
};

struct Fault {
  FaultKind kind = FaultKind::leak;
  PlaceId place;  // box for unit_silent and power_cut
  double amount = 0;
  bool operator==(const Fault&) const = default;
};

// "roof-void leak 12", "loading-dock vent stuck", "loading-dock vent blocked 70", "freezer gauge frozen",
// "east-nitrogen dead", "east-nitrogen impure 4", "shared dead", "unit 3 silent", "power cut".
// An error text says which word was not understood and what could stand there.
std::variant<Fault, std::string> parse_fault(const Site&, std::string_view text);
std::string fault_text(const Site&, const Fault&);  // reads back through parse_fault
std::string fault_help();                           // one line per fault

}  // namespace riserkeep
