#include "drivers/modbus/output.h"

#include <algorithm>
#include <utility>

namespace riserkeep {
namespace {

constexpr std::chrono::seconds kCheck{10}, kTryAgain{1};

// Lower comes first.
int rank(const OutputLease& lease) {
  if (lease.returning()) return lease.next() == BusCall::write_safe ? 0 : 1;
  return lease.next() == BusCall::read_back ? 2 : 3;
}

}  // namespace

OutputDesk::OutputDesk(const Site& site, std::vector<CoilOutput> coils) {
  for (CoilOutput& c : coils) {
    const OutputKind kind = site.outputs.at(c.output.index).kind;
    outputs_.push_back({std::move(c), OutputLease(c.output, kind), false, {}, {}});
  }
}

bool OutputDesk::has(OutputId id) const {
  return std::ranges::any_of(outputs_, [&](const BusOutput& o) { return o.wiring.output == id; });
}

void OutputDesk::order(const OutputOrder& order, EngineTime now) {
  for (BusOutput& o : outputs_) {
    if (o.wiring.output != order.output) continue;
    o.lease.order(order, now);
    if (!o.lease.returning()) continue;
    o.fresh = true;
    o.not_before = {};
  }
}

void OutputDesk::enforce(EngineTime now, SteadyTime steady) {
  for (BusOutput& o : outputs_) {
    const bool before = o.lease.returning();
    o.lease.enforce(now);
    if (!before && o.lease.returning()) o.fresh = true;
    if (steady < o.next_check) continue;
    o.lease.check();
    o.next_check = steady + kCheck;
  }
}

BusOutput* OutputDesk::next(SteadyTime now, const std::function<bool(int)>& reachable) {
  BusOutput* best = nullptr;
  for (BusOutput& o : outputs_) {
    if (!o.lease.next() || now < o.not_before || !(o.fresh || reachable(o.wiring.unit))) continue;
    if (!best || rank(o.lease) < rank(best->lease)) best = &o;
  }
  return best;
}

void OutputDesk::done(BusOutput& o, BusCall call, CallResult result, bool coil_on, SteadyTime now) {
  const bool again = o.lease.returning() && !o.lease.finding();
  o.lease.done(call, result, coil_on);
  if (call == BusCall::write_safe && o.lease.returning() && result != CallResult::lost) return;
  o.fresh = false;
  o.next_check = now + kCheck;
  const bool in_vain = again && call == BusCall::read_back && o.lease.next() == BusCall::write_safe;
  o.not_before = in_vain ? now + kTryAgain : SteadyTime{};
}

std::vector<BusOutput*> OutputDesk::of_unit(int unit) {
  std::vector<BusOutput*> found;
  for (BusOutput& o : outputs_) {
    if (o.wiring.unit == unit) found.push_back(&o);
  }
  return found;
}

std::optional<EngineTime> OutputDesk::next_deadline() const {
  std::optional<EngineTime> soonest;
  for (const BusOutput& o : outputs_) {
    const auto d = o.lease.deadline();
    if (d && (!soonest || *d < *soonest)) soonest = d;
  }
  return soonest;
}

std::optional<SteadyTime> OutputDesk::next_retry(SteadyTime now) const {
  std::optional<SteadyTime> soonest;
  for (const BusOutput& o : outputs_) {
    const SteadyTime t = o.lease.next() ? o.not_before : o.next_check;
    if (t > now && (!soonest || t < *soonest)) soonest = t;
  }
  return soonest;
}

std::vector<OutputObserved> OutputDesk::take_observed() {
  std::vector<OutputObserved> all;
  for (BusOutput& o : outputs_) {
    for (OutputObserved& seen : o.lease.take_observed()) all.push_back(seen);
  }
  return all;
}

}  // namespace riserkeep
