#include "daemon/rehearsal/account.h"

namespace riserkeep {

void Account::take(const Timed& t) {
  if (!std::holds_alternative<OutputOrder>(t.effect)) ++events_;
  std::visit([&](const auto& effect) { take(t.at, effect); }, t.effect);
}

void Account::take(EngineTime at, const AlarmChanged& a) {
  if (a.change == AlarmChange::raised) alarms_.push_back({a, at, std::nullopt});
  if (a.change != AlarmChange::cleared) return;
  for (AlarmAccount& known : alarms_)
    if (known.raised.id == a.id) known.cleared = at;
}

void Account::take(EngineTime at, const VentEvent& v) {
  const Output& output = site_[v.output];
  if (output.kind != OutputKind::vent) return;
  SystemAccount& s = systems_[output.place.index];
  if (v.change == VentChange::refused) ++s.refusals;
  if (v.change == VentChange::open) {
    if (s.openings++ == 0) s.first_reason = v.reason;
    s.last_reason = v.reason;
    s.opened = at;
    if (!s.first_opening) s.first_opening = at;
  }
  if ((v.change == VentChange::close || v.change == VentChange::expired) && s.opened) {
    s.open_time += at - *s.opened;
    s.opened.reset();
  }
}

void Account::take(EngineTime, const RefillSeen& r) {
  SystemAccount& s = systems_[r.system.index];
  ++s.refills;
  if (r.cause == RefillCause::leak) ++s.refills_by_leak;
  if (r.cause == RefillCause::vent) ++s.refills_by_vent;
}

void Account::take(EngineTime, const LeakEstimate& e) { systems_[e.system.index].leak = e.leak; }

void Account::take(EngineTime at, const PurityEstimate& e) {
  SystemAccount& s = systems_[e.system.index];
  s.purity = e.purity;
  const System& system = site_[e.system];
  if (!system.purity || !e.purity.oxygen) return;
  const bool at_target = *e.purity.oxygen <= system.purity->target;
  if (at_target && e.purity.how == PurityHow::flowing && !s.indicated_at_target) s.indicated_at_target = at;
  if (at_target && e.purity.grade >= Grade::rested && !s.rested_at_target) s.rested_at_target = at;
  if (e.purity.grade >= Grade::verified_at_riser && !s.verified) {
    s.verified = at;
    s.verified_grade = e.purity.grade;
  }
}

std::string told(const Site& site, Priority priority) {
  std::string names;
  for (const Person& p : site.people) {
    if (p.calls_now && priority < Priority::high) continue;
    names += (names.empty() ? "" : ", ") + p.id;
  }
  return names.empty() ? "nobody: the site file names no people" : names;
}

}  // namespace riserkeep
