// What the engine answers. The shell carries these out; nothing else leaves the engine.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "rules/ids.h"
#include "rules/input.h"
#include "rules/quantities.h"
#include "rules/time.h"

namespace riserkeep {

// ISA-18.2 / IEC 62682 states.
enum class AlarmState : std::uint8_t {
  normal, unacknowledged, acknowledged, returned_unacknowledged, latched_unacknowledged, latched_acknowledged,
};
enum class AlarmChange : std::uint8_t {
  raised, cleared, acknowledged, shelved, unshelved, suppressed, unsuppressed, out_of_service, in_service,
  released, priority_changed, realarmed,
};

struct AlarmChanged {
  OccurrenceId id{};
  std::string reference;             // what a person types to acknowledge it
  ClassId alarm{};
  PlaceId place;
  AlarmChange change{};
  AlarmState state{};
  Priority priority{};
  Category category{};
  EngineTime since;
  std::optional<double> value, limit;
  std::string unit, cause, text, first_action, who;
  std::optional<EngineTime> until;   // of a shelving or of work
  std::string why;                   // of a shelving, of work, of out of service; what explains a suppressed one
};

// A vent, sample port or supply valve must move. `not_after`: dropped when older; `lease_until`: the
// bus thread returns the output to its safe state then, unless a newer order renews it.
struct OutputOrder {
  OutputId output;
  OrderNo order{};
  bool open = false;
  bool renewal = false;              // only extends the lease of an output that is open already
  EngineTime not_after, lease_until;
  std::string reason;
};

enum class VentChange : std::uint8_t { open, close, confirmed, refused, expired };
struct VentEvent {
  OutputId output;
  VentChange change{};
  OrderNo order{};
  std::string reason;
};

enum class RefillCause : std::uint8_t { leak, cooling, vent, unknown };
struct RefillSeen {
  SystemId system;
  EngineTime started;
  Duration took{};
  PressureChange rise;
  RefillCause cause = RefillCause::unknown;
};

struct Interval { double value = 0, low95 = 0, high95 = 0; };

// psi in 24 h, positive = loss. "Not observable" and "not enough data" are results.
struct LeakResult {
  bool observable = false;
  std::string_view why_not;          // when not observable or not enough data
  std::optional<Interval> at_service;  // at the system's own mean pressure and temperature
  std::optional<Interval> at_40psi;    // at 40 psi gauge and 21 C
  std::optional<double> hole_mm, std_l_per_min;
  double hours_of_data = 0;
};
struct LeakEstimate { SystemId system; LeakResult leak; };

enum class Grade : std::uint8_t { unknown, indicated, rested, verified_at_riser, verified_at_far_end };
enum class PurityHow : std::uint8_t { flowing, after_rest, by_hand, ledger };

struct PurityResult {
  std::optional<OxygenFraction> oxygen;
  Tap where = Tap::riser;
  PurityHow how = PurityHow::flowing;
  EngineTime measured;
  Grade grade = Grade::unknown;
  std::optional<double> ledger_percent, ledger_high95;
  std::optional<double> asymptote_percent, asymptote_low95, asymptote_high95, tau_hours;
  std::optional<EngineTime> target_at, target_low95, target_high95;
};
struct PurityEstimate { SystemId system; PurityResult purity; };

struct Note { PlaceId place; std::string text; };

// One message decided: who, about which alarms, in words. The shell delivers it and keeps trying.
enum class NoticeKind : std::uint8_t {
  alarm, reminder, escalation, back_to_normal, still_bad, unstable, digest, work, chores, all_well, started, stopping, test,
};
struct Notice {
  NoticeId id{};
  NoticeKind kind{};
  std::vector<PersonId> to;
  std::vector<std::string> references;  // of the alarms it groups, the cause first
  PlaceId place;
  Priority priority{};
  EngineTime since;                    // when what it tells of began
  std::string subject, short_text, long_text;  // short_text: one text message, GSM letters
  bool about_delivery = false;         // messages do not get through: the way that fails must not be the only one
};

using Effect = std::variant<AlarmChanged, OutputOrder, VentEvent, RefillSeen, LeakEstimate, PurityEstimate, Note, Notice>;

// Several deadlines may run inside one step, each at its own time.
struct Timed {
  EngineTime at;
  Effect effect;
};
using Effects = std::vector<Timed>;

}  // namespace riserkeep
