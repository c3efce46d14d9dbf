// The inside of Engine: every part of its state, each its own section of the archive. Not for others.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/alarms/board.h"
#include "rules/alarms/statistics.h"
#include "rules/calendar_book.h"
#include "rules/engine.h"
#include "rules/estimators/twin.h"
#include "rules/judge/judge_all.h"
#include "rules/notices/notices.h"
#include "rules/site_names.h"
#include "rules/venting/venting.h"
#include "rules/tasks/chores.h"
#include "rules/tasks/windows.h"

namespace riserkeep {

struct Engine::Parts {
  Site site;
  RuleSettings settings;
  ChannelTable channels{site.channels.size()};
  std::vector<Twin> twins{site.systems.size()};
  AlarmBoard board;
  Judges judges{site};
  Venting venting{site};
  WorkWindows work;
  Chores chores{site};
  AlarmStatistics statistics;
  Notices notices;
  CalendarBook calendar;

  // Time and connections, one section of the archive.
  struct Place {
    std::optional<EngineTime> ticked;
    EngineTime started;
    std::int64_t wall_minus_engine_ms = 0;
    bool wall_known = false;
    void keep(Archive& a) { a(ticked, started, wall_minus_engine_ms, wall_known); }
  } time;
  struct Around {
    std::vector<LinkState> links;
    std::array<BoxState, 4> box;
    void keep(Archive& a) { a(links, box); }
  } around{std::vector<LinkState>(site.links.size()), {}};
  EngineTime now;
  std::string refusal;
  std::size_t heard = 0;               // of this step's effects, by the notices

  Parts(Site s, RuleSettings r) : site(std::move(s)), settings(std::move(r)) {}

  SiteView view() const {
    const VentingState& v = venting.state();
    return {site, now, time.started, channels, twins, v.vents, v.outputs, v.supplies, v.analysers, around.links, around.box, board,
            &work, &chores, &statistics, &calendar};
  }

  void renumber(const SiteIds& saved);
  void catch_up(EngineTime at, Effects& out);
  void hear(const Effects& out);
  void tick(Effects& out);
  void estimates(Effects& out);
  void refills(Effects& out);
  void people(std::size_t from, Effects& out);
  void count_chores(const OperatorCommand&);
  void end_work(const WorkEnd&, std::string_view who, Effects& out);
  void air_in(Effects& out);

  void take(const Reading&, Effects& out);
  void take(const OperatorCommand&, Effects& out);
  void take(const LinkChanged&, Effects& out);
  void take(const OutputObserved&, Effects& out);
  void take(const BoxHealth&, Effects& out);
  void take(const WallMapped&, Effects& out);
  void take(const CalendarTurned&, Effects& out);
  void take(const Resumed&, Effects& out);
  void take(const Elapsed&, Effects&) {}
  void take(const Stopping& s, Effects& out) { notices.stopping(view(), s.why, out); }
};

}  // namespace riserkeep
