#include "daemon/runtime/well_output.h"

#include <algorithm>
#include <utility>

#include "rules/alarms/board.h"

namespace riserkeep {
namespace {

constexpr Duration kRenew = seconds(2), kLease = seconds(10), kNotAfter = seconds(3);

}  // namespace

WellOutput::WellOutput(const Site& site) {
  const auto found = std::ranges::find(site.outputs, OutputKind::box_well, &Output::kind);
  if (found != site.outputs.end()) output_ = OutputId{static_cast<std::uint16_t>(found - site.outputs.begin())};
}

OutputOrder WellOutput::made(EngineTime now, bool on) {
  OutputOrder o;
  o.output = *output_;
  o.order = OrderNo{next_order_++};
  o.open = on;
  o.not_after = now + kNotAfter;
  o.lease_until = now + kLease;
  o.reason = on ? "the box is well" : trouble_;
  return o;
}

std::optional<OutputOrder> WellOutput::look(EngineTime now, const std::string& trouble) {
  if (!output_) return std::nullopt;
  trouble_ = trouble;
  if (!trouble_.empty()) {
    renewed_.reset();
    if (!std::exchange(on_, false)) return std::nullopt;
    return made(now, false);
  }
  // One that is leased already is only renewed by this; one that the device has dropped comes back.
  if (renewed_ && now - *renewed_ < kRenew) return std::nullopt;
  renewed_ = now;
  on_ = true;
  return made(now, true);
}

void WellOutput::observed(const OutputObserved& seen) { seen_ = seen.state; }

std::string WellOutput::why_off() const {
  if (!output_ || (trouble_.empty() && seen_ == OutputState::open)) return {};
  if (!trouble_.empty()) return trouble_;
  return seen_ == OutputState::shut ? "the relay does not follow: look at its unit and its time-out" : "the relay's unit does not answer";
}

std::string box_trouble(const SiteView& view) {
  for (const BoxPart part : {BoxPart::history, BoxPart::messages})
    if (const BoxState& state = view.box[static_cast<std::size_t>(part)]; !state.well)
      return (part == BoxPart::history ? "history: " : "messages: ") + state.why;
  for (std::uint16_t i = 0; i < view.site.links.size(); ++i)
    if (view.alarms.standing(ClassId::link_lost, LinkId{i})) return "link " + view.site.links[i].id + " is silent";
  return {};
}

}  // namespace riserkeep
