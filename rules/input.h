// What the engine is fed. Nothing else reaches it: replaying these replays the engine.
#pragma once

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

struct OperatorCommand {
  std::string who;
  std::variant<Acknowledge, Release, SetMode, Commission, LockOut, HandReading> what;
};

struct LinkChanged { LinkId link; bool up; };
struct OutputObserved { OutputId output; OrderNo order; OutputOutcome outcome; OutputState state; };
enum class BoxPart : std::uint8_t { history, messages, clock, config };
struct BoxHealth { BoxPart part; bool well; std::string why; };
struct WallMapped { std::int64_t wall_minus_engine_ms; bool synchronised; };  // labels only
enum class CalendarKey : std::uint8_t { working_hours, purge_due };
struct CalendarTurned { CalendarKey key; bool begins; PlaceId place; };
// The process started (again) or was stopped for a while; `known` is false when the gap's length is not.
struct Resumed { bool gap_known; };
struct Elapsed {};

using Input = std::variant<Reading, OperatorCommand, LinkChanged, OutputObserved, BoxHealth, WallMapped,
                           CalendarTurned, Resumed, Elapsed>;

struct Stamped {
  Seq seq{};
  EngineTime at;
  Input input;
};

}  // namespace riserkeep
