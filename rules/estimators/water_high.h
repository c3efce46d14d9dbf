// The highest measured water pressure below a valve in the last 7 days: with the ratio it makes the pressure
// at which a differential valve trips. Kept per day, so that 7 to 8 days are covered.
#pragma once

#include <algorithm>
#include <array>
#include <optional>

#include "rules/archive.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class WaterHigh {
 public:
  void add(EngineTime at, PressureChange above_atmosphere) {
    const std::int64_t day = at.time_since_epoch() / hours(24);
    if (day < day_) return;
    forget_until(day);
    auto& today = pa_[slot(day)];
    today = std::max(today.value_or(above_atmosphere.si()), above_atmosphere.si());
  }
  std::optional<PressureChange> highest(EngineTime now) const {
    const std::int64_t today = now.time_since_epoch() / hours(24);
    std::optional<PressureChange> out;
    for (std::int64_t day = std::max<std::int64_t>(today - kDays + 1, day_ - kDays + 1); day <= day_; ++day)
      if (const auto& pa = pa_[slot(day)]; pa && (!out || *pa > out->si())) out = PressureChange::from_si(*pa);
    return out;
  }
  void keep(Archive& a) { a(pa_, day_); }

 private:
  static constexpr std::int64_t kDays = 8;
  static std::size_t slot(std::int64_t day) { return static_cast<std::size_t>((day % kDays + kDays) % kDays); }
  void forget_until(std::int64_t day) {
    for (std::int64_t d = std::max(day_ + 1, day - kDays + 1); d <= day; ++d) pa_[slot(d)].reset();
    day_ = day;
  }
  std::array<std::optional<double>, kDays> pa_{};
  std::int64_t day_ = 0;             // the newest day read
};

}  // namespace riserkeep
