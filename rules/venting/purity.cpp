#include "rules/venting/purity.h"

namespace riserkeep {
namespace {

void newest(PurityResult& r, const std::optional<OxygenFraction>& value, EngineTime at, PurityHow how) {
  if (!value || (r.oxygen && at < r.measured)) return;
  r.oxygen = value;
  r.measured = at;
  r.how = how;
}

}  // namespace

PurityResult purity_result(const SiteView& view, SystemId id) {
  const System& system = view.site[id];
  const VentState& vent = view.vent(id);
  PurityResult r;
  if (system.vent) r.where = system.vent->tap;
  newest(r, vent.purity.indicated, vent.purity.indicated_at, PurityHow::flowing);
  newest(r, vent.purity.rested, vent.purity.rested_at, PurityHow::after_rest);
  newest(r, vent.purity.by_hand, vent.purity.by_hand_at, PurityHow::by_hand);
  if (r.how == PurityHow::by_hand) r.where = Tap::far_end;
  r.grade = vent.purity.grade;
  if (vent.purge_began || vent.mode != Mode::watch) {
    r.ledger_percent = 100.0 * vent.ledger.mean();
    r.ledger_high95 = 100.0 * vent.ledger.upper();
  }
  if (vent.stage == PurgeStage::none || !system.purity) return r;
  if (const auto f = view.twin(id).purge().forecast(system.purity->target, view.now)) {
    r.asymptote_percent = f->asymptote_percent;
    r.asymptote_low95 = f->asymptote_low95;
    r.asymptote_high95 = f->asymptote_high95;
    r.tau_hours = f->tau_hours;
    r.target_at = f->target_at;
    r.target_low95 = f->target_low95;
    r.target_high95 = f->target_high95;
  }
  return r;
}

}  // namespace riserkeep
