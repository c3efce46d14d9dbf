// What the wall said when the engine's clock said this. Labels only; a later synchronisation corrects one row
// and re-stamps nothing.
#pragma once

#include <optional>
#include <vector>

#include "daemon/history/store.h"

namespace riserkeep {

class ClockMap {
 public:
  void add(ClockMark mark) { marks_.push_back(std::move(mark)); }  // in the order of engine time
  // Milliseconds to add to engine time at `t`: the newest mark that is not later. While that one was not
  // synchronised, the first later mark of the same boot that was. Before all marks: the first that knows.
  std::optional<std::int64_t> offset_ms(EngineTime t) const;
  std::optional<WallTime> wall(EngineTime t) const;

 private:
  std::vector<ClockMark> marks_;
};

}  // namespace riserkeep
