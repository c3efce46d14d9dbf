#include "rules/venting/inside.h"

namespace riserkeep {
namespace {

constexpr Duration kNotAfter = seconds(3), kLeaseMargin = seconds(2);
constexpr int kLeasePolls = 3;

OutputOrder made(const Inside& in, OutputId id, bool open, Duration poll) {
  OutputOrder o;
  o.output = id;
  o.order = OrderNo{in.state.next_order++};
  o.open = open;
  o.not_after = in.now() + kNotAfter;
  o.lease_until = in.now() + kLeasePolls * poll + kLeaseMargin;
  in.output(id).newest_order = o.order;
  return o;
}

}  // namespace

void order(const Inside& in, OutputId id, bool open, Duration poll, std::string reason) {
  OutputOrder o = made(in, id, open, poll);
  o.reason = reason;
  OutputSeen& seen = in.output(id);
  seen.commanded_open = open;
  seen.command_order = o.order;
  seen.ordered_at = in.now();
  seen.confirmed_at.reset();
  in.out.push_back({in.now(), o});
  if (in.site()[id].kind == OutputKind::vent)
    in.out.push_back({in.now(), VentEvent{id, open ? VentChange::open : VentChange::close, o.order, std::move(reason)}});
}

void renew(const Inside& in, OutputId id, Duration poll) {
  if (!in.output(id).commanded_open) return;
  OutputOrder o = made(in, id, true, poll);
  o.renewal = true;
  in.out.push_back({in.now(), std::move(o)});
}

void order_vent(const Inside& in, SystemId id, bool open, std::string reason) {
  const System& s = in.site()[id];
  order(in, s.vent->output, open, in.site()[s.pressure].poll, std::move(reason));
  if (in.twins) (*in.twins)[id.index].vent_moved(open, in.now());
}

}  // namespace riserkeep
