// The oxygen ledger of one system: an upper and lower bound of the pipe's mean oxygen that needs neither
// mixing nor volume. Oxygen as a fraction; pressures absolute (over temperature where measured).
#pragma once

#include <optional>

#include "rules/archive.h"
#include "rules/ids.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

class OxygenLedger {
 public:
  // A piece of a venting, from p0 to p1. `vented`: share of the content that left. `fed`: share that came
  // in. `y`: mean oxygen measured in the vented gas; absent = not measured, earns no credit.
  void piece(double vented, double fed, std::optional<OxygenFraction> y, OxygenFraction feed);
  // A refill after a close, p0 to p1 (settled).
  void refill(AbsolutePressure p0, AbsolutePressure p1, OxygenFraction feed);
  // Between events: the pressure is now p. Falls beyond the highest seen so far are leaks without credit.
  void rest(AbsolutePressure p, Tap tap);
  void rebase(AbsolutePressure p);             // after a venting or refill: p is the new reference
  void restart();                              // operation, air refill, gap with flow: air again
  void hand_reading(OxygenFraction x);         // at the far end

  double mean() const { return x_; }           // fraction
  double sd() const;
  double upper() const;                        // mean + 2 sd
  double lower() const;
  double contents_vented() const { return turnover_; }
  std::optional<OxygenFraction> last_vented() const { return last_y_; }
  void keep(Archive& a) { a(x_, turnover_, credit_, fall_, fall_counted_, last_p_, purest_feed_, last_y_, start_unknown_); }
  bool start_unknown() const { return start_unknown_; }
  void take_over() { start_unknown_ = true; }

 private:
  double x_ = 0.2095, turnover_ = 0, credit_ = 0, fall_ = 0, fall_counted_ = 0;
  std::optional<AbsolutePressure> last_p_;
  std::optional<OxygenFraction> purest_feed_, last_y_;
  bool start_unknown_ = false;
};

}  // namespace riserkeep
