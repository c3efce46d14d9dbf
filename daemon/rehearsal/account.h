// What happened during a rehearsal, told so that a person can follow it: which vents were opened and why,
// when each system reached and proved its purity, what leaks, who would have been told.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "rules/effect.h"
#include "rules/site.h"

namespace riserkeep {

struct SystemAccount {
  int openings = 0, refusals = 0;
  Duration open_time{};
  std::optional<EngineTime> opened;
  std::string first_reason, last_reason;
  std::optional<EngineTime> first_opening, indicated_at_target, rested_at_target, verified;
  Grade verified_grade = Grade::unknown;
  std::optional<LeakResult> leak;
  std::optional<PurityResult> purity;
  int refills = 0, refills_by_leak = 0, refills_by_vent = 0;
};

struct AlarmAccount {
  AlarmChanged raised;
  EngineTime at;
  std::optional<EngineTime> cleared;
};

class Account {
 public:
  explicit Account(const Site& site) : site_(site), systems_(site.systems.size()) {}

  void take(const Timed&);
  const SystemAccount& of(SystemId s) const { return systems_[s.index]; }
  const std::vector<AlarmAccount>& alarms() const { return alarms_; }
  std::size_t events() const { return events_; }

 private:
  void take(EngineTime, const AlarmChanged&);
  void take(EngineTime, const VentEvent&);
  void take(EngineTime, const RefillSeen&);
  void take(EngineTime, const LeakEstimate&);
  void take(EngineTime, const PurityEstimate&);
  void take(EngineTime, const OutputOrder&) {}
  void take(EngineTime, const Note&) {}
  void take(EngineTime, const Notice&) {}

  const Site& site_;
  std::vector<SystemAccount> systems_;
  std::vector<AlarmAccount> alarms_;
  std::size_t events_ = 0;
};

// Persons of the site who would get a message of this priority at any hour, as "night, works".
std::string told(const Site&, Priority);

}  // namespace riserkeep
