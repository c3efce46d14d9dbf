#include "rules/estimators/exposure.h"

namespace riserkeep {

void Exposure::advance(EngineTime now, std::optional<OxygenFraction> known) {
  if (started_ && now <= last_) return;
  const Duration passed = now - last_;
  // Longer than this nobody looked: what the oxygen was in between is not known.
  constexpr Duration kLongestStep = hours(2);
  if (started_ && known && passed <= kLongestStep) {
    percent_hours_ += known->percent() * in_hours(passed);
    known_hours_ += in_hours(passed);
  }
  last_ = now;
  started_ = true;
}

}  // namespace riserkeep
