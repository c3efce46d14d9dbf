// The leak of one system from its pressure decay between refills: pieces with own intercepts and one
// shared rate of ln(p_abs/T); interval from block-averaged residuals with their autocorrelation.
// Works on y = P0 ln(p_abs) [psi], P0 = 54.696 psi, so that a slope of -s psi/day is a loss of s psi in
// 24 h at 40 psi gauge. Bounded memory, O(1) work per reading; the fit runs in result() only.
#pragma once

#include <algorithm>
#include <deque>
#include <optional>
#include <vector>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class LeakRate {
 public:
  // `barometer`: p was built from a measured barometer, not from the site's mean atmosphere.
  void add(EngineTime at, AbsolutePressure p, std::optional<Temperature> gas, bool barometer = false);
  // Refill, vent, filling, work, restart: nothing is fitted across it. `quiet_until`: left out before.
  // The last three minutes are dropped too: whatever it was, it began before it was noticed.
  void new_piece(EngineTime quiet_until);
  void gap(EngineTime at);           // no readings: closes the block, keeps the piece

  // `volume`: for L/min and the hole; where it is absent they stay absent in the result.
  LeakResult result(EngineTime now, AbsolutePressure atmosphere, std::optional<Volume> volume) const;

  void keep(Archive& a) { a(blocks_, open_, pending_, quiet_until_, first_, newest_, piece_); }

  static constexpr std::string_view kNotEnough = "not enough data";
  static constexpr std::string_view kHeld = "not observable: the supply holds the pressure";
  static constexpr std::string_view kHardlyClosed = "not observable: the pipe is hardly ever closed";
  static LeakResult declined(std::string_view why, double data_hours = 0);  // `why`: one of these three

 private:
  struct Sample {
    EngineTime at;
    double log_p = 0, log_t = 0;     // of Pa and K
    bool has_t = false, barometer = false;
    void keep(Archive& a) { a(at, log_p, log_t, has_t, barometer); }
  };
  // Sums while open, means once closed.
  struct Block {
    EngineTime first, last;
    double seconds = 0, log_p = 0, log_t = 0;  // seconds: of the mean time after `first`
    std::int32_t n = 0, n_t = 0, piece = 0;
    bool barometer = false;
    void keep(Archive& a) { a(first, last, seconds, log_p, log_t, n, n_t, piece, barometer); }
    double hours() const { return in_hours(last - first) * n / std::max(n - 1, 1); }
    bool has_t() const { return n_t == n; }
  };
  void release(const Sample&);
  void close_block();
  std::vector<const Block*> chosen(EngineTime now, bool temperature) const;
  bool mostly_with_temperature(EngineTime now) const;
  bool hardly_closed(EngineTime now) const;
  LeakResult scaled(double rate, double half95, const std::vector<const Block*>& used, bool temperature,
                    AbsolutePressure atmosphere, std::optional<Volume> volume) const;

  std::deque<Block> blocks_;         // newest 7 days
  Block open_;
  std::deque<Sample> pending_;       // the last three minutes, not yet trusted
  EngineTime quiet_until_, newest_;
  std::optional<EngineTime> first_;
  std::int32_t piece_ = 0;
};

}  // namespace riserkeep
