// What the engine is fed. Nothing else reaches it: replaying these replays the engine.
#pragma once

#include <optional>
#include <string>
#include <variant>

#include "rules/ids.h"
#include "rules/quantities.h"
#include "rules/reading.h"

namespace riserkeep {

enum class Mode : std::uint8_t { watch, purge, keep };

// What an output was found to be. `confirmed` states come with the order they answer.
enum class OutputState : std::uint8_t { unknown, shut, open };
enum class OutputOutcome : std::uint8_t { confirmed, refused, expired, found };

struct Acknowledge { std::string reference; };       // as printed with the alarm, e.g. "7K6"
struct Release { SystemId system; };                 // of a latched valve-operated, after a look at the valve
struct SetMode { SystemId system; Mode mode; };
struct Commission { SystemId system; bool gauge_compared = false; double gauge_psi = 0; };  // starts the pulse test
struct LockOut { SystemId system; bool locked; std::string why; };
enum class HandReadingKind : std::uint8_t { far_end, riser, air_check };
struct HandReading { PlaceId place; HandReadingKind kind; OxygenFraction oxygen; std::string meter; };


// Names one alarm point or all of a place: a reference ("7K6"), "leak@roof-void", or "roof-void".
struct AlarmTarget { std::string text; };
struct Shelve {
  AlarmTarget target;
  Duration how_long{};               // more than 24 h needs a reason
  bool until_clear = false;          // ends when the condition goes, if that is sooner
  std::string why;
};
struct Unshelve { AlarmTarget target; };
struct OutOfService { AlarmTarget target; bool out = true; std::string why; };

struct WorkStart { SystemId system; std::string what; Duration how_long{}; };   // whose: OperatorCommand::who
struct WorkEnd {                     // what was seen to before leaving
  SystemId system;
  bool reset = false, drained = false, water_valve_open = false;
  std::string gas;                   // what the pipe was filled with: "nitrogen", "air"; "unchanged": not opened
  std::string except;                // what was not done and why, where an item of the list is missing
};

enum class ChoreKind : std::uint8_t { gauge_comparison, air_check, hand_reading, leak_test, low_point_drains };
struct ChoreDone {
  PlaceId place;
  ChoreKind kind{};
  std::optional<double> as_found, as_left;  // in the chore's own unit
  std::string remark;
};
struct Repair { PlaceId place; std::string what; };
struct TestNotice { PersonId person; };

struct OperatorCommand {
  std::string who;
  std::variant<Acknowledge, Release, SetMode, Commission, LockOut, HandReading, Shelve, Unshelve, OutOfService, WorkStart,
               WorkEnd, ChoreDone, Repair, TestNotice> what;
};

struct LinkChanged { LinkId link; bool up; };
struct OutputObserved { OutputId output; OrderNo order; OutputOutcome outcome; OutputState state; };
enum class BoxPart : std::uint8_t { history, messages, clock, config };
struct BoxHealth { BoxPart part; bool well; std::string why; };
struct WallMapped { std::int64_t wall_minus_engine_ms; bool synchronised; };  // labels only
// The shell knows time zones and holidays, the engine does not. `index`: of the person, recurring window, chore
// or system in its list of the site. A moment is told with `begins` true; a stretch also when it ends.
enum class CalendarKey : std::uint8_t {
  morning,        // of a person: what could wait is told now
  quiet_hours,    // of a person: only critical ones are told
  window,         // recurring maintenance window
  chore_due,      // of a chore with a date
  purge_due,      // of a system
  all_well,       // the daily "all well", if wanted
};
// `local_day`: which day at the site it belongs to, in days since 1970-01-01; of a dated chore the date itself.
struct CalendarTurned { CalendarKey key; bool begins; std::uint16_t index; std::int32_t local_day = 0; };
// The process started (again) or was stopped for a while; `known` is false when the gap's length is not.
struct Resumed { bool gap_known; };
// The program stops on purpose: said before the outputs go to their safe state.
struct Stopping { std::string why; };
struct Elapsed {};

using Input = std::variant<Reading, OperatorCommand, LinkChanged, OutputObserved, BoxHealth, WallMapped,
                           CalendarTurned, Resumed, Elapsed, Stopping>;

struct Stamped {
  Seq seq{};
  EngineTime at;
  Input input;
};

}  // namespace riserkeep
