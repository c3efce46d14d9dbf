// What the parts of the vent decision hand each other. Not for others.
#pragma once

#include <string>
#include <vector>

#include "rules/venting/venting.h"

namespace riserkeep {

// `view` looks at `state`: what a part changes, the next one sees. `twins` is absent in operator commands.
struct Inside {
  const SiteView& view;
  VentingState& state;
  Effects& out;
  std::vector<Twin>* twins = nullptr;

  const Site& site() const { return view.site; }
  EngineTime now() const { return view.now; }
  VentState& vent(SystemId s) const { return state.vents[s.index]; }
  OutputSeen& output(OutputId o) const { return state.outputs[o.index]; }
  AnalyserState& analyser(AnalyserId a) const { return state.analysers[a.index]; }
  void note(PlaceId place, std::string text) const { out.push_back({view.now, Note{place, std::move(text)}}); }
};

// A new order to an output, with its event if it is a vent. `poll`: of the reading its lease hangs on.
void order(const Inside&, OutputId, bool open, Duration poll, std::string reason);
void renew(const Inside&, OutputId, Duration poll);
// Vent of a system, port of an analyser.
void order_vent(const Inside&, SystemId, bool open, std::string reason);

// turn.cpp: one venting from the flush to the end of the refill.
void begin_turn(const Inside&, SystemId);
void step_turn(const Inside&, SystemId);
void close_vent(const Inside&, SystemId, std::string reason);   // at once, in any phase; accounts later
void vent_reading(const Inside&, SystemId);                     // a new pressure reading while it may be open
void vent_confirmed(const Inside&, SystemId);

// follow.cpp: what the pressure says of the vent.
void follow_effect(const Inside&, SystemId);
bool falls_on(const Inside&, SystemId, EngineTime after, EngineTime until);
void found_stuck(const Inside&, SystemId, std::string why);
void found_blocked(const Inside&, SystemId, std::string why);
void found_mismatch(const Inside&, SystemId, std::string why);

// pieces.cpp: the ledger's side.
void begin_piece(const Inside&, SystemId);
void cut_piece(const Inside&, SystemId, bool last);
Duration longest_piece(const Inside&, SystemId);
void settle_pieces(const Inside&, SystemId);
void follow_refills(const Inside&, SystemId);
void pieces_oxygen(const Inside&, SystemId, EngineTime measured, OxygenFraction);
void learn_cut_in(const Inside&, SystemId);

// sampler.cpp: what the analysers draw from.
bool analyser_free_for(const SiteView&, SystemId);
void sample_venting(const Inside&, SystemId);
void release_analyser(const Inside&, SystemId);
void step_sampler(const Inside&, AnalyserId);
void analyser_reading(const Inside&, AnalyserId, EngineTime measured, OxygenFraction raw);
bool line_flushed(const SiteView&, SystemId);

void take_oxygen(const Inside&, const Reading&, OxygenFraction);    // of a system or raw of an analyser
bool port_known(const SiteView&, SystemId);

// proof.cpp: from venting to verified.
void begin_purge(const Inside&, SystemId, std::string_view why);
void after_venting(const Inside&, SystemId);
void step_proof(const Inside&, SystemId);
bool sample_due(const SiteView&, SystemId);
bool air_check_wanted(const SiteView&, AnalyserId);
void rested_sample(const Inside&, SystemId, OxygenFraction);
std::optional<EngineTime> next_sample(const SiteView&, SystemId);   // when the next rested sample is due

// commissioning.cpp
std::uint64_t wiring_hash(const Site&, SystemId);
void void_if_rewired(const Inside&, SystemId);
bool begin_pulse(const Inside&, const Commission&, std::string_view who, std::string& why_not);
bool start_pulse(const Inside&, SystemId);         // of one that was asked for; false: too few readings
void step_pulse(const Inside&, SystemId);
void pulse_closed(const Inside&, SystemId);        // the watch after the close has ended well
void pulse_failed(const Inside&, SystemId, std::string why);

// pulse_queue.cpp
bool waits_for_turn_only(const std::vector<Refusal>&);
void ask_pulse(const Inside&, SystemId, std::string by, std::string waits_for);
void drop_pulse(const Inside&, SystemId, std::string why);
bool put_off_pulse(const Inside&, SystemId);       // again from a fuller pipe; false: often enough
bool give_pulse(const Inside&, SupplyId);          // true: one has begun or waits for nothing but the turn

// planner.cpp
void give_turns(const Inside&);

}  // namespace riserkeep
