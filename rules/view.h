// Read-only look at the whole state of the engine, for rules, permits, pages, `status` and `why`.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "rules/channels.h"
#include "rules/estimators/twin.h"
#include "rules/site.h"
#include "rules/venting/vent_state.h"

namespace riserkeep {

class AlarmBoard;
class AlarmStatistics;
class CalendarBook;
class Chores;
class WorkWindows;

struct LinkState {
  bool known = false, up = false;
  EngineTime since;
  void keep(Archive& a) { a(known, up, since); }
};

struct BoxState {
  bool well = true;
  EngineTime since;
  std::string why;
  void keep(Archive& a) { a(well, since, why); }
};

struct SiteView {
  const Site& site;
  EngineTime now;
  EngineTime started;                // of this run: 10 min of good inputs before the first venting
  const ChannelTable& channels;
  const std::vector<Twin>& twins;            // by system
  const std::vector<VentState>& vents;       // by system
  const std::vector<OutputSeen>& outputs;    // by output
  const std::vector<SupplyState>& supplies;  // by supply
  const std::vector<AnalyserState>& analysers;  // by analyser
  const std::vector<LinkState>& links;
  const std::array<BoxState, 4>& box;        // by BoxPart
  const AlarmBoard& alarms;
  const WorkWindows* work = nullptr;             // absent where a test looks at one part alone
  const Chores* chores = nullptr;
  const AlarmStatistics* statistics = nullptr;
  const CalendarBook* calendar = nullptr;    // never null in a running engine

  const Twin& twin(SystemId s) const { return twins[s.index]; }
  const VentState& vent(SystemId s) const { return vents[s.index]; }
};

}  // namespace riserkeep
