// Everything estimated about one system's gas, fed once per reading and read by all rules.
#pragma once

#include "rules/channels.h"
#include "rules/estimators/leak_rate.h"
#include "rules/estimators/pressure_track.h"
#include "rules/estimators/purge_fit.h"
#include "rules/estimators/refill_watch.h"
#include "rules/estimators/signal_health.h"
#include "rules/estimators/water_high.h"
#include "rules/site.h"

namespace riserkeep {

class Twin {
 public:
  // A reading of one of this system's channels; `channels` already holds it.
  void reading(const Site&, SystemId, const ChannelTable&, const Reading&);
  void vent_moved(bool open, EngineTime at);       // commanded or observed, whichever is first
  void sampled(bool port_open, EngineTime at);     // gas drawn to the analyser is no leak
  void repaired(EngineTime at);                    // the leak before says nothing of the leak after
  void resumed(EngineTime at);                     // restart: new intercepts

  const PressureTrack& pressure() const { return pressure_; }
  const RefillWatch& refills() const { return refills_; }
  RefillWatch& refills() { return refills_; }
  const SignalHealth& pressure_health() const { return pressure_health_; }
  PurgeFit& purge() { return purge_; }
  const PurgeFit& purge() const { return purge_; }
  // Recomputed hourly (and when asked after new data); "not enough data" until then.
  const LeakResult& leak() const { return leak_result_; }
  void renew_leak(const Site&, SystemId, EngineTime now);
  const WaterHigh& water() const { return water_; }    // where the water pressure is measured
  std::optional<GaugePressure> mean_pressure() const;  // slow mean: "service pressure"

  void keep(Archive&);

 private:
  void good_pressure(const Site&, SystemId, const ChannelTable&, EngineTime at, GaugePressure);
  void over_gap(Duration stale_after, EngineTime at, GaugePressure);
  void quiet(EngineTime until);
  void keep_leak(Archive&);

  PressureTrack pressure_;
  RefillWatch refills_;
  LeakRate leak_;
  LeakResult leak_result_ = LeakRate::declined(LeakRate::kNotEnough);  // kept: rules judge it between two renewals
  PurgeFit purge_;
  SignalHealth pressure_health_;
  WaterHigh water_;
  double slow_mean_pa_ = 0, slow_seconds_ = 0;
  bool has_mean_ = false, vent_open_ = false, vented_since_refill_ = false, filling_ = false, barometer_ = false, sampled_ = false;
  std::optional<EngineTime> last_reading_;
  EngineTime quiet_until_;
};

}  // namespace riserkeep
