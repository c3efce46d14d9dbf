// The oxygen ledger of one system: an upper and a lower bound of the pipe's mean oxygen that need neither
// mixing nor volume. Oxygen as a fraction; pressures absolute (over temperature where measured).
//
// Two accounts are kept. What nobody measured is taken the worst way in each: the high one takes it that
// the poorest gas left and that a feed of unknown oxygen lowered nothing, the low one that the richest left
// and that the feed was pure. So the truth lies between them even where a leak or an unknown start leaves room.
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
  // in. `y`: mean oxygen measured in the vented gas; absent = not measured, earns no credit. `feed`: absent =
  // not measured lately.
  void piece(double vented, double fed, std::optional<OxygenFraction> y, std::optional<OxygenFraction> feed);
  // A refill after a close, p0 to p1 (settled).
  void refill(AbsolutePressure p0, AbsolutePressure p1, std::optional<OxygenFraction> feed);
  // Between events: the pressure is now p. Falls beyond the highest seen so far are leaks without credit.
  void rest(AbsolutePressure p, Tap tap);
  void rebase(AbsolutePressure p);             // after a venting or refill: p is the new reference
  void restart();                              // filled with air: known from both sides
  void begin();                                // a purge begins: air at most; the low account goes on
  void unseen();                               // nobody looked: nothing is too low to be true
  void hand_reading(OxygenFraction far_end, std::optional<OxygenFraction> riser = {});  // the mean lies between

  double mean() const { return x_; }           // of the high account, fraction
  double sd() const;
  double upper() const;                        // mean + 2 sd
  double lower() const;                        // low account - 2 sd
  double contents_vented() const { return turnover_; }
  std::optional<OxygenFraction> last_vented() const { return last_y_; }
  void keep(Archive& a) { a(x_, low_, turnover_, credit_, fall_, fall_counted_, last_p_, purest_feed_, last_y_, start_unknown_); }
  bool start_unknown() const { return start_unknown_; }
  void take_over() { start_unknown_ = true; low_ = 0; }

 private:
  double x_ = 0.2095, low_ = 0.2095, turnover_ = 0, credit_ = 0, fall_ = 0, fall_counted_ = 0;
  std::optional<AbsolutePressure> last_p_;
  std::optional<OxygenFraction> purest_feed_, last_y_;
  bool start_unknown_ = false;
};

}  // namespace riserkeep
