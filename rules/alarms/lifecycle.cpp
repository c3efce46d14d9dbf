#include "rules/alarms/lifecycle.h"

namespace riserkeep {
namespace {

constexpr std::string_view kAlphabet = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
static_assert(kAlphabet.size() == 32);

// Names and units must not cost an allocation a second while an alarm stands.
void assign(std::string& to, std::string_view from) {
  if (to != from) to.assign(from);
}

}  // namespace

std::optional<Duration> realarm_after(Priority p) {
  if (p == Priority::critical) return hours(8);
  return p == Priority::high ? std::optional<Duration>{hours(24)} : std::nullopt;
}

std::string reference_of(OccurrenceId id) {
  auto n = static_cast<std::uint64_t>(id);
  std::size_t length = 3;
  std::uint64_t codes = 32 * 32 * 32;
  while (n >= codes && length < 12) {
    n -= codes;
    codes *= 32;
    ++length;
  }
  n = (n * 20'021 + 7'177) % codes;  // odd factor, so one to one modulo a power of two
  std::string out(length, '2');
  for (std::size_t i = length; i-- > 0; n /= 32) out[i] = kAlphabet[n % 32];
  return out;
}

std::optional<std::string> parse_reference(std::string_view typed) {
  std::string out;
  for (char c : typed) {
    if (c == ' ') continue;
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    if (kAlphabet.find(c) == std::string_view::npos) return std::nullopt;
    out += c;
  }
  return out.size() >= 3 ? std::optional{out} : std::nullopt;
}

std::optional<AlarmChange> AlarmLifecycle::step(const AlarmClass& c, const Verdict& verdict, EngineTime at,
                                                Duration observed, std::uint64_t& next) {
  unproven_ = std::holds_alternative<CannotTell>(verdict);
  if (const auto* raise = std::get_if<Raise>(&verdict)) return on_raise(c, *raise, at, observed, next);
  if (std::holds_alternative<Clear>(verdict)) return on_clear(c, observed);
  if (std::holds_alternative<Hold>(verdict)) proven_off_ = proven_rise_ = Duration{};
  return std::nullopt;
}

std::optional<AlarmChange> AlarmLifecycle::on_raise(const AlarmClass& c, const Raise& raise, EngineTime at,
                                                    Duration observed, std::uint64_t& next) {
  proven_off_ = Duration{};
  const Priority asked = raise.priority.value_or(c.priority);
  if (condition()) return rise(c, raise, asked, observed);
  if (!pending_) {
    pending_ = true;
    pending_since_ = at;
    proven_on_ = Duration{};
  } else {
    proven_on_ += observed;
  }
  if (proven_on_ < raise.on_delay.value_or(c.on_delay)) return std::nullopt;
  pending_ = false;
  state_ = AlarmState::unacknowledged;
  id_ = OccurrenceId{next++};
  since_ = pending_since_;
  priority_ = asked;
  proven_rise_ = Duration{};
  who_.clear();
  take(c, raise);
  return AlarmChange::raised;
}

// The occurrence keeps its highest priority: falling and rising again would cry wolf.
std::optional<AlarmChange> AlarmLifecycle::rise(const AlarmClass& c, const Raise& raise, Priority asked, Duration observed) {
  if (asked <= priority_) {
    proven_rise_ = Duration{};
    take(c, raise);
    return stand_on(observed);
  }
  proven_rise_ += observed;
  if (proven_rise_ < raise.on_delay.value_or(c.on_delay)) return std::nullopt;
  proven_rise_ = Duration{};
  priority_ = asked;
  state_ = AlarmState::unacknowledged;
  who_.clear();
  take(c, raise);
  return AlarmChange::priority_changed;
}

std::optional<AlarmChange> AlarmLifecycle::stand_on(Duration observed) {
  if (state_ != AlarmState::acknowledged) return std::nullopt;
  proven_acked_ += observed;
  const auto limit = realarm_after(priority_);
  if (!limit || proven_acked_ < *limit) return std::nullopt;
  state_ = AlarmState::unacknowledged;
  who_.clear();
  return AlarmChange::realarmed;
}

std::optional<AlarmChange> AlarmLifecycle::on_clear(const AlarmClass& c, Duration observed) {
  pending_ = false;
  proven_rise_ = Duration{};
  if (!condition()) return std::nullopt;
  proven_off_ += observed;
  if (proven_off_ < c.off_delay) return std::nullopt;
  const bool seen = state_ == AlarmState::acknowledged;
  if (c.latching) state_ = seen ? AlarmState::latched_acknowledged : AlarmState::latched_unacknowledged;
  else state_ = seen ? AlarmState::normal : AlarmState::returned_unacknowledged;
  return AlarmChange::cleared;
}

bool AlarmLifecycle::acknowledge(std::string_view who) {
  switch (state_) {
    case AlarmState::unacknowledged: state_ = AlarmState::acknowledged; break;
    case AlarmState::returned_unacknowledged: state_ = AlarmState::normal; break;
    case AlarmState::latched_unacknowledged: state_ = AlarmState::latched_acknowledged; break;
    case AlarmState::normal: case AlarmState::acknowledged: case AlarmState::latched_acknowledged: return false;
  }
  proven_acked_ = Duration{};
  who_.assign(who);
  return true;
}

bool AlarmLifecycle::release(std::string_view who) {
  if (!latched()) return false;
  state_ = AlarmState::normal;
  who_.assign(who);
  return true;
}

void AlarmLifecycle::take(const AlarmClass& c, const Raise& raise) {
  const std::string_view unit = raise.unit.empty() ? c.unit : raise.unit;
  if (unit.empty()) value_ = limit_ = std::nullopt;
  else { value_ = raise.value; limit_ = raise.limit; }
  assign(unit_, unit);
  assign(cause_, raise.cause);
}

}  // namespace riserkeep
