#include <map>

#include "rules/venting/venting.h"

namespace riserkeep {
namespace {

template <class List>
std::vector<std::string> ids_of(const List& list) {
  std::vector<std::string> out;
  for (const auto& item : list) out.push_back(item.id);
  return out;
}

// Puts what was saved under its id where the present site has it; what is new begins afresh.
template <class T>
void fit(std::vector<T>& now, const std::vector<std::string>& now_ids, std::vector<T>& saved, const std::vector<std::string>& saved_ids) {
  std::map<std::string, std::size_t> at;
  for (std::size_t i = 0; i < saved_ids.size() && i < saved.size(); ++i) at.emplace(saved_ids[i], i);
  for (std::size_t i = 0; i < now_ids.size(); ++i)
    if (const auto found = at.find(now_ids[i]); found != at.end()) now[i] = std::move(saved[found->second]);
}

}  // namespace

VentingState::VentingState(const Site& site)
    : vents(site.systems.size()), outputs(site.outputs.size()), supplies(site.supplies.size()), analysers(site.analysers.size()),
      system_ids(ids_of(site.systems)), output_ids(ids_of(site.outputs)), supply_ids(ids_of(site.supplies)), analyser_ids(ids_of(site.analysers)) {
  for (std::size_t i = 0; i < vents.size(); ++i) {
    vents[i].cut_in_seen = site.systems[i].air.cut_in;
    vents[i].dwell = site.venting.dwell;
  }
}

void VentingState::keep(Archive& a) {
  if (!a.is_loading()) {
    a(system_ids, output_ids, supply_ids, analyser_ids, vents, outputs, supplies, analysers, next_order);
    return;
  }
  std::vector<std::string> s, o, u, n;
  std::vector<VentState> saved_vents;
  std::vector<OutputSeen> saved_outputs;
  std::vector<SupplyState> saved_supplies;
  std::vector<AnalyserState> saved_analysers;
  a(s, o, u, n, saved_vents, saved_outputs, saved_supplies, saved_analysers, next_order);
  const bool same = s == system_ids && u == supply_ids && n == analyser_ids && o == output_ids;
  fit(vents, system_ids, saved_vents, s);
  fit(outputs, output_ids, saved_outputs, o);
  fit(supplies, supply_ids, saved_supplies, u);
  fit(analysers, analyser_ids, saved_analysers, n);
  if (same) return;
  for (AnalyserState& analyser : analysers) {   // places by number may mean others now
    analyser.sampling.reset();
    analyser.job = SampleJob::none;
  }
  for (VentState& v : vents) {
    v.pulse = VentPulse{};
    v.pulse_asked.reset();
  }
}

}  // namespace riserkeep
