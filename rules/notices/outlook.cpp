#include "rules/notices/outlook.h"

#include <algorithm>

#include "rules/judge/common.h"
#include "rules/text.h"
#include "rules/venting/ladder.h"

namespace riserkeep {
namespace {

constexpr Duration kWindow = minutes(10), kShortest = minutes(2), kFar = days(30);

std::optional<PressureRate> falling_now(const SiteView& view, SystemId id) {
  const PressureTrack& track = view.twin(id).pressure();
  if (track.samples().size() < 3) return std::nullopt;
  const EngineTime from = std::max(view.now - kWindow, track.samples().front().at);
  if (view.now - from < kShortest) return std::nullopt;
  const auto slope = track.slope(from, view.now);
  if (!slope || slope->si() >= 0) return std::nullopt;
  const PressureRate fall = PressureRate::from_si(-slope->si());
  return fall * (view.now - from) > std::max(psi(0.2), 4.0 * track.noise()) ? std::optional{fall} : std::nullopt;
}

std::optional<PressureRate> present_loss(const SiteView& view, SystemId id) {
  std::optional<PressureRate> loss = falling_now(view, id);
  const LeakResult& leak = view.twin(id).leak();
  if (leak.observable && leak.at_service && leak.at_service->value > 0) {
    const PressureRate slow = psi_per_day(leak.at_service->value);
    loss = loss ? std::max(*loss, slow) : slow;
  }
  return loss;
}

std::optional<Duration> until(const Outlook& o, GaugePressure point) {
  if (!o.air) return std::nullopt;
  if (*o.air <= point) return Duration{};
  if (!o.loss) return std::nullopt;
  return from_seconds(std::min((*o.air - point).si() / o.loss->si(), 10.0 * in_seconds(kFar)));
}

std::string in_words(const std::optional<Duration>& left) {
  if (!left) return "not known";
  if (*left <= Duration{}) return "now";
  return *left > kFar ? "in more than " + duration_text(kFar) : "in about " + duration_text(*left);
}

}  // namespace

Outlook outlook(const SiteView& view, SystemId id) {
  const System& s = view.site[id];
  Outlook o;
  o.air = view.channels.pressure(view.site, s.pressure, view.now);
  o.loss = present_loss(view, id);
  o.vent_open = vent_may_be_open(view, id);
  o.low_air = until(o, s.valve.low_air_switch);
  o.trip_at = trip_pressure(s, std::nullopt);
  if (o.trip_at) o.trip = until(o, *o.trip_at);
  return o;
}

std::string low_air_words(const Outlook& o) { return in_words(o.low_air); }
std::string trip_words(const Outlook& o) { return in_words(o.trip); }

std::string valve_words(const System& s) {
  const auto trip = trip_pressure(s, std::nullopt);
  const std::string at = trip ? " near " + psi_text(*trip) : std::string{};
  switch (s.kind) {
    case SystemKind::preaction_single:
      return "Single interlock preaction: losing the air alone admits no water, but the pipe is no longer supervised.";
    case SystemKind::preaction_double:
      return "Double interlock preaction: losing the air alone admits no water, but half of the release condition is met: "
             "detection alone would now release the valve.";
    case SystemKind::preaction_non:
      return "Non-interlock preaction: losing the air alone opens the valve" + at + ", detection or not.";
    case SystemKind::dry_pipe: break;
  }
  switch (s.valve.kind) {
    case ValveKind::differential:
      return "Dry pipe with a differential valve (" + significant2(s.valve.ratio) + " to 1): it opens" + at + " and fills the pipe with water.";
    case ValveKind::low_differential:
      return "Dry pipe with a low-differential valve: it opens" + at + " and fills the pipe with water.";
    case ValveKind::latched:
      return "Dry pipe with a mechanically latched valve: its actuator lets go" + at + ", then the pipe fills with water.";
  }
  return {};
}

}  // namespace riserkeep
