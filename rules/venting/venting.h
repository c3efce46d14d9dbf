// The vent decision of the whole site: permit, turn, ledger, proof and commissioning, once a second and at
// every reading. Pure; orders leave as effects. Any doubt closes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"
#include "rules/venting/vent_state.h"
#include "rules/view.h"

namespace riserkeep {

// All reasons why an output may not open or stay open, not the first. Empty = permitted.
struct Refusal {
  std::string_view what;             // "air", "mode", "feed", "neighbours", "room oxygen" ...
  std::string now, needs;            // in words with units, for `why`
};
struct Check { std::string_view what; bool ok = true, asked = true; std::string now, needs; };  // also those that pass
struct Permit {
  SystemId system;
  std::vector<Check> checks;
  bool permitted() const;
  std::vector<Refusal> refusals() const;
};

// Per-site state of venting, besides the per-system VentState.
struct VentingState {
  std::vector<VentState> vents;            // by system
  std::vector<OutputSeen> outputs;         // by output
  std::vector<SupplyState> supplies;
  std::vector<AnalyserState> analysers;
  std::uint64_t next_order = 1;
  // Ids in the order of the lists above, so that a changed site file cannot mix systems up.
  std::vector<std::string> system_ids, output_ids, supply_ids, analyser_ids;
  explicit VentingState(const Site& site);
  void keep(Archive& a);
};

class Venting {
 public:
  explicit Venting(const Site& site);

  // Once a second. Decides openings, deadlines, phases, proofs.
  void tick(const SiteView&, std::vector<Twin>&, Effects& out);
  // After every reading: closes what is no longer permitted, renews the lease of what is.
  void reading(const SiteView&, std::vector<Twin>&, const Reading&, Effects& out);
  void output_observed(const SiteView&, std::vector<Twin>&, const OutputObserved&, Effects& out);
  // At start, power back, reload: every output to its safe state, nothing resumes by itself.
  void resumed(const SiteView&, Effects& out);

  // Operator commands; false with the reasons in words when refused.
  bool set_mode(const SiteView&, SystemId, Mode, std::string_view who, Effects& out, std::string& why_not);
  bool commission(const SiteView&, const Commission&, std::string_view who, Effects& out, std::string& why_not);
  bool lock(const SiteView&, const LockOut&, std::string_view who, Effects& out, std::string& why_not);
  bool hand_reading(const SiteView&, const HandReading&, std::string_view who, Effects& out, std::string& why_not);
  void air_entered(const SiteView&, SystemId, std::string why, Effects& out);  // purity unknown, the ledger at air
  void operated(const SiteView&, SystemId, Effects& out);   // valve-operated: purity unknown, locked until released

  const VentingState& state() const { return state_; }
  void keep(Archive& a) { a(state_); }

 private:
  VentingState state_;
};

// What stands in the way of opening this system's vent now (or of keeping it open).
Permit permit(const SiteView&, SystemId, bool already_open);
// The same for a commissioning pulse: mode, purity and gas supply are not asked.
Permit permit_pulse(const SiteView&, SystemId, bool already_open);

}  // namespace riserkeep
