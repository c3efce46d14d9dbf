#include "daemon/rehearsal/intervals.h"

#include <algorithm>

namespace riserkeep {

void UsualIntervals::add(const Reading& r) {
  Seen& s = seen_[r.channel.index];
  if (s.last && r.measured > *s.last && s.gaps.size() < 101) s.gaps.push_back(r.measured - *s.last);
  s.last = r.measured;
}

void UsualIntervals::apply(Site& site) const {
  for (std::size_t i = 0; i < seen_.size(); ++i) {
    std::vector<Duration> gaps = seen_[i].gaps;
    if (gaps.size() < 2) continue;
    const auto middle = gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2);
    std::nth_element(gaps.begin(), middle, gaps.end());
    site.channels[i].poll = *middle;
    site.channels[i].stale_after = std::max<Duration>(seconds(60), 3 * *middle);
  }
}

}  // namespace riserkeep
