// Work on a system: its vent stays shut, what the work is expected to raise is recorded but quiet, everything
// else lives on. A window of a person ends by that person's word and a checklist; a recurring one by itself.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/alarms/rest.h"
#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/input.h"
#include "rules/view.h"

namespace riserkeep {

struct WorkWindow {
  SystemId system;
  std::string what, who;             // who: the window's owner, called when it runs over
  EngineTime since, until;           // until: as announced; a person's window goes on after it
  std::optional<std::uint16_t> recurring;  // index of the site's recurring window
  std::optional<GaugePressure> lowest;     // good readings of the time of work
  bool unread = false;               // the pressure was not known at some time
  bool overrun_said = false, quiet_ended = false;
  void keep(Archive& a) { a(system, what, who, since, until, recurring, lowest, unread, overrun_said, quiet_ended); }
};

class WorkWindows {
 public:
  static constexpr Duration kLongest = days(14);
  static constexpr Duration kQuietAfter = hours(1);       // an overrun is heard of by others after this
  static constexpr GaugePressure kOpened = psig(5);       // below: the pipe was open, or as good as

  // A person's window; the same person may start it again to extend it. False: refused, with the reasons.
  bool start(const SiteView&, const WorkStart&, std::string_view who, Effects& out, std::string& why_not);
  bool end(const SiteView&, const WorkEnd&, std::string_view who, Effects& out, std::string& why_not);
  void calendar(const SiteView&, std::uint16_t index, bool begins, Effects& out);  // a recurring window turned
  void tick(const SiteView&, Effects& out);

  const WorkWindow* at(SystemId) const;                   // a person's window before a recurring one
  const std::vector<WorkWindow>& open() const { return open_; }
  std::vector<QuietWork> quiet() const;                   // windows whose expected alarms rest
  // Windows of persons that run over: the owner is told (`who`: a Person's id, else a name).
  std::vector<WorkWindow> overrun(EngineTime now) const;
  // Systems whose pipe holds air, or may, since a window that ended in this step. Empties the list.
  std::vector<SystemId> take_aired();

  template <class Moved>
  void moved(Moved where) {          // another site file: `where(PlaceId)` is the place's new number, if it is still there
    std::erase_if(open_, [&](WorkWindow& w) {
      const std::optional<PlaceId> now = where(PlaceId{w.system});
      if (now) w.system = SystemId{now->index};
      return !now || w.recurring;    // recurring ones are told anew
    });
  }
  void keep(Archive& a) { a(open_); }

 private:
  void close(const SiteView&, std::size_t index, bool air_said, Effects& out);

  std::vector<WorkWindow> open_;
  std::vector<SystemId> aired_;      // within one step only
};

}  // namespace riserkeep
