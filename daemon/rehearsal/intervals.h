// How often each channel usually speaks, learned from the beginning of a recording: a replay calls a pressure
// stale after 60 s or three of its usual intervals, whichever is more.
#pragma once

#include <optional>
#include <vector>

#include "rules/reading.h"
#include "rules/site.h"

namespace riserkeep {

class UsualIntervals {
 public:
  explicit UsualIntervals(std::size_t channels) : seen_(channels) {}
  void add(const Reading&);
  void apply(Site&) const;           // poll and stale_after of every channel heard three times or more

 private:
  struct Seen { std::optional<EngineTime> last; std::vector<Duration> gaps; };
  std::vector<Seen> seen_;
};

}  // namespace riserkeep
