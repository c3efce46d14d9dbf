// The leak of one system from its pressure decay between refills: pieces with own intercepts and one
// shared rate of ln(p_abs/T); interval from block-averaged residuals with their autocorrelation.
// Works on y = P0 ln(p_abs) [psi], P0 = 54.696 psi, so that a slope of -s psi/day is a loss of s psi in
// 24 h at 40 psi gauge. Bounded memory, O(1) work per reading.
#pragma once

#include <deque>
#include <optional>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class LeakRate {
 public:
  void add(EngineTime at, AbsolutePressure p, std::optional<Temperature> gas);
  // Refill, vent, filling, work, restart: nothing is fitted across it. `quiet_until`: left out before.
  void new_piece(EngineTime quiet_until);
  void gap(EngineTime at);           // no readings: closes the block, keeps the piece

  // `bore_area`, `volume`: for L/min and the hole; absent values stay absent in the result.
  LeakResult result(EngineTime now, AbsolutePressure atmosphere, std::optional<Volume> volume) const;

  void keep(Archive&);

 private:
  struct Block { EngineTime at; double y = 0, theta = 0; int n = 0; std::int32_t piece = 0; bool has_theta = false; void keep(Archive& a) { a(at, y, theta, n, piece, has_theta); } };
  std::deque<Block> blocks_;         // newest 7 days
  Block open_;
  EngineTime open_since_, quiet_until_;
  std::int32_t piece_ = 0;
};

}  // namespace riserkeep
