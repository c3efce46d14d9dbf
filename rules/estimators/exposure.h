// Oxygen exposure of one system: the mean oxygen over time, and for how much of the time it was known.
#pragma once

#include <optional>

#include "rules/archive.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class Exposure {
 public:
  void advance(EngineTime now, std::optional<OxygenFraction> known);
  double percent_hours() const { return percent_hours_; }  // integral of O2 % over the known time
  double known_hours() const { return known_hours_; }
  void keep(Archive& a) { a(last_, started_, percent_hours_, known_hours_); }

 private:
  EngineTime last_;
  bool started_ = false;
  double percent_hours_ = 0, known_hours_ = 0;
};

}  // namespace riserkeep
