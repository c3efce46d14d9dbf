#include "rules/text.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "rules/units.h"

namespace riserkeep {
namespace {

template <class E, std::size_t N>
std::string_view nth(const std::array<std::string_view, N>& words, E e) { return words[static_cast<std::size_t>(e)]; }

}  // namespace

std::string fixed(double v, int decimals) {
  std::string s = fmt::format("{:.{}f}", v, decimals);
  if (s[0] == '-' && s.find_first_not_of("-0.") == std::string::npos) s.erase(0, 1);
  return s;
}

std::string significant2(double v) {
  const double size = std::abs(v);
  if (size < 0.0005) return "0.0";
  const int decimals = 1 - static_cast<int>(std::floor(std::log10(size)));
  return fixed(v, decimals < 0 ? 0 : decimals);
}

std::string psi_text(GaugePressure p) { return fixed(in_psi(p), 1) + " psi"; }
std::string psi_text(PressureChange p) { return fixed(in_psi(p), 1) + " psi"; }
std::string percent_text(OxygenFraction o) { return fixed(o.percent(), 1) + " % O2"; }

std::string duration_text(Duration d) {
  const auto s = d.count() < 0 ? 0 : d.count() / 1000;
  if (s < 120) return fmt::format("{} s", s);
  if (s < 3600) return fmt::format("{} min", s / 60);
  if (s < 48 * 3600) return s / 60 % 60 ? fmt::format("{} h {} min", s / 3600, s / 60 % 60) : fmt::format("{} h", s / 3600);
  return fmt::format("{} d", s / 86400);
}

std::string_view word(Mode e) { return nth(std::array<std::string_view, 3>{"watch", "purge", "keep"}, e); }
std::string_view word(Priority e) {
  return nth(std::array<std::string_view, 4>{"low", "medium", "high", "critical"}, e);
}
std::string_view word(Category e) {
  return nth(std::array<std::string_view, 4>{"maintenance", "trouble", "supervisory", "safety"}, e);
}
std::string_view word(AlarmState e) {
  return nth(std::array<std::string_view, 6>{"normal", "unacknowledged", "acknowledged", "returned_unacknowledged",
                                             "latched_unacknowledged", "latched_acknowledged"}, e);
}
std::string_view word(AlarmChange e) {
  return nth(std::array<std::string_view, 12>{"raised", "cleared", "acknowledged", "shelved", "unshelved", "suppressed",
                                              "unsuppressed", "out_of_service", "in_service", "released",
                                              "priority_changed", "realarmed"}, e);
}
std::string_view word(VentChange e) {
  return nth(std::array<std::string_view, 5>{"open", "close", "confirmed", "refused", "expired"}, e);
}
std::string_view word(RefillCause e) {
  return nth(std::array<std::string_view, 4>{"leak", "cooling", "vent", "unknown"}, e);
}
std::string_view word(Grade e) {
  return nth(std::array<std::string_view, 5>{"not known", "indicated", "rested", "verified at riser",
                                             "verified at far end"}, e);
}
std::string_view word(PurityHow e) {
  return nth(std::array<std::string_view, 4>{"flowing", "after rest", "by hand", "from the ledger"}, e);
}
std::string_view word(Tap e) { return nth(std::array<std::string_view, 2>{"riser", "far end"}, e); }
std::string_view word(Quality e) { return nth(std::array<std::string_view, 3>{"good", "uncertain", "bad"}, e); }
std::string_view word(Why e) {
  return nth(std::array<std::string_view, 10>{"none", "stale", "retained", "out of range", "failed low", "failed high",
                                              "frozen", "no value", "flushing", "link lost"}, e);
}
std::string_view word(ClassId e) {
  return nth(std::array<std::string_view, kClassCount>{
      "valve-operated", "rapid-loss", "near-trip", "vent-stuck-open", "room-oxygen", "pressure-low", "pressure-high",
      "supply-failed", "supply-purity-low", "supply-is-air", "vent-blocked", "output-mismatch", "link-lost",
      "room-cold", "leak", "leak-growing", "refill-frequent", "purity-low", "purity-stall", "purge-overdue",
      "instrument-fault", "history-fault", "messages-undelivered", "clock-unsure", "config-rejected"}, e);
}
std::string_view word(NoticeKind e) {
  return nth(std::array<std::string_view, 13>{"alarm", "reminder", "escalation", "back_to_normal", "still_bad", "unstable",
                                              "digest", "work", "chores", "all_well", "started", "stopping", "test"}, e);
}
std::string_view word(SystemKind e) {
  return nth(std::array<std::string_view, 4>{"dry pipe", "preaction single", "preaction non", "preaction double"}, e);
}
std::string_view word(ValveKind e) {
  return nth(std::array<std::string_view, 3>{"differential", "latched", "low-differential"}, e);
}

}  // namespace riserkeep
