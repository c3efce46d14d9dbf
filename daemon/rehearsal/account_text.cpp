#include "daemon/rehearsal/account_text.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/formats/local_time.h"
#include "rules/text.h"
#include "rules/units.h"

namespace riserkeep {
namespace {

class Writer {
 public:
  Writer(const Site& site, Rehearsal& rehearsal, const Account& account, const Scenario& scenario)
      : site_(site), rehearsal_(rehearsal), account_(account), scenario_(scenario) {}

  std::string head() const {
    return fmt::format("{} {}, simulated: seed {}, to {}\n{} events by {} engine steps. Invented data; nothing real was touched.\n\n",
                       site_.name, site_.id, scenario_.seed, when(rehearsal_.now()), account_.events(), rehearsal_.steps());
  }
  std::string system(SystemId) const;
  std::string alarms() const;
  std::string margins() const;

 private:
  std::string when(EngineTime t) const { return local_minute(site_.time_zone, rehearsal_.engine().wall(t)); }
  std::string purity(SystemId) const;
  std::string vents(SystemId) const;
  std::string leak(SystemId) const;

  const Site& site_;
  Rehearsal& rehearsal_;
  const Account& account_;
  const Scenario& scenario_;
};

std::string row(std::string_view label, const std::string& text) {
  std::string out;
  std::string_view rest = text;
  while (true) {
    std::size_t cut = rest.size();
    if (cut > 66) {
      cut = rest.rfind(' ', 66);
      if (cut == std::string_view::npos || cut == 0) cut = 66;
    }
    out += fmt::format("  {:<11}{}\n", label, rest.substr(0, cut));
    if (cut >= rest.size()) return out;
    rest = rest.substr(cut + (rest[cut] == ' ' ? 1 : 0));
    label = "";
  }
}

std::string Writer::vents(SystemId id) const {
  const SystemAccount& a = account_.of(id);
  if (!site_[id].vent) return "none";
  if (a.openings == 0) return "never opened";
  return fmt::format("opened {} times, {} in all, first {}: {}", a.openings, duration_text(a.open_time),
                     when(*a.first_opening), a.first_reason);
}

std::string Writer::purity(SystemId id) const {
  const SystemAccount& a = account_.of(id);
  if (!site_[id].purity) return "not measured";
  const double target = site_[id].purity->target.purity_percent();
  std::string text;
  const auto reached = [&](std::string_view how, const std::optional<EngineTime>& at) {
    if (at) text += fmt::format("{}{} {}", text.empty() ? fmt::format("{} % reached: ", fixed(target, 0)) : ", ", how, when(*at));
  };
  reached("indicated", a.indicated_at_target);
  reached("rested", a.rested_at_target);
  if (a.verified) reached(word(a.verified_grade), a.verified);
  if (text.empty()) text = fmt::format("{} % not reached yet", fixed(target, 0));
  const PurityResult p = a.purity.value_or(PurityResult{});
  if (p.oxygen)
    text += fmt::format(". Last read {} % O2 at the {}, {}, {} ago, {}", fixed(p.oxygen->percent(), 1), word(p.where), word(p.how),
                        duration_text(rehearsal_.now() - p.measured), word(p.grade));
  if (p.ledger_high95) text += fmt::format("; ledger at most {} %", fixed(*p.ledger_high95, 1));
  const Truth truth = rehearsal_.room().truth(id);
  return text + fmt::format(". In truth {} % mean, {} % at worst", fixed(truth.mean_oxygen.percent(), 1), fixed(truth.worst_oxygen.percent(), 1));
}

std::string Writer::leak(SystemId id) const {
  const SystemAccount& a = account_.of(id);
  const std::string truth = "; in truth " + significant2(in_psi_per_day(scenario_.systems[id.index].leak));
  if (!a.leak) return "no estimate";
  if (!a.leak->at_40psi) return std::string(a.leak->why_not) + truth;
  const Interval& i = *a.leak->at_40psi;
  std::string text = fmt::format("{} psi in 24 h at 40 psi ({} to {})", significant2(i.value), significant2(i.low95), significant2(i.high95));
  if (a.leak->hole_mm) text += fmt::format(", as a hole of {} mm", fixed(*a.leak->hole_mm, 2));
  return text + truth;
}

std::string Writer::system(SystemId id) const {
  const System& s = site_[id];
  const SystemAccount& a = account_.of(id);
  return fmt::format("{} ({}, {} valve)\n", s.name, word(s.kind), word(s.valve.kind)) + row("purity", purity(id)) +
         row("vent", vents(id)) + row("leak", leak(id)) +
         row("refills", fmt::format("{}: {} after a venting, {} by leak, {} other", a.refills, a.refills_by_vent, a.refills_by_leak,
                                    a.refills - a.refills_by_vent - a.refills_by_leak)) + "\n";
}

std::string Writer::alarms() const {
  if (account_.alarms().empty()) return "No alarm was raised.\n\n";
  const std::size_t count = account_.alarms().size();
  std::string out = fmt::format("{} alarm{}, and whom {} would have reached:\n", count, count == 1 ? "" : "s", count == 1 ? "it" : "they");
  std::size_t shown = 0;
  for (const AlarmAccount& a : account_.alarms()) {
    if (++shown > 15) { out += fmt::format("  and {} more\n", count - 15); break; }
    out += row("", fmt::format("{} {}{}. Told: {}", when(a.at), a.raised.text,
                                                     a.cleared ? ", over after " + duration_text(*a.cleared - a.at) : ", still standing",
                                                     told(site_, a.raised.priority)));
  }
  return out + "\n";
}

std::string Writer::margins() const {
  const auto& lowest = rehearsal_.lowest_margin();
  if (!lowest) return "No vent was opened.\n";
  return fmt::format("Never more than {} vent open. Lowest true pressure with a vent open: {} psi above\nthe limit, {}, {}.\n",
                     rehearsal_.most_vents_open(), fixed(in_psi(lowest->above_limit), 2), place_name(site_, lowest->system), when(lowest->at));
}

}  // namespace

std::string account_text(const Site& site, const Scenario& scenario, Rehearsal& rehearsal, const Account& account,
                         const std::vector<std::string>& remarks) {
  const Writer w(site, rehearsal, account, scenario);
  std::string out = w.head();
  for (std::size_t i = 0; i < site.systems.size(); ++i) out += w.system(SystemId{static_cast<std::uint16_t>(i)});
  for (const std::string& remark : remarks) out += remark + "\n";
  return out + w.alarms() + w.margins();
}

}  // namespace riserkeep
