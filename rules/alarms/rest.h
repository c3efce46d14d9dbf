// Why the notices of an alarm rest. Orthogonal to its state, which goes on as if nothing were: an alarm that
// rests still raises, clears, latches and waits for its acknowledgement (ISA-18.2-2016 / IEC 62682:2014,
// states SHLVD, DSUPR, OOSRV; from memory).
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "rules/archive.h"
#include "rules/ids.h"
#include "rules/time.h"

namespace riserkeep {

enum class RestReason : std::uint8_t {
  out_of_service,   // a person took the point or its place out, until a person puts it back
  shelved,          // a person does not want to hear of it until a time
  work,             // expected while people work on the system
  suppressed,       // by design: another standing alarm explains it
};
std::string_view word(RestReason);

struct AlarmPoint {
  ClassId alarm{};
  PlaceId place;
  friend constexpr auto operator<=>(AlarmPoint, AlarmPoint) = default;
  void keep(Archive& a) { a(alarm, place); }
};

struct Rest {
  RestReason reason{};
  std::string who, why;              // of shelving, work and out of service; suppressed: `why` names what explains it
  EngineTime since;
  std::optional<EngineTime> until;   // shelved, work
  std::optional<AlarmPoint> by;      // suppressed: the alarm that explains it
  void keep(Archive& a) { a(reason, who, why, since, until, by); }
};

// A system under work, whose expected alarms are quiet.
struct QuietWork {
  SystemId system;
  std::string who, what;
  EngineTime since, until;
  friend bool operator==(const QuietWork&, const QuietWork&) = default;
  void keep(Archive& a) { a(system, who, what, since, until); }
};

}  // namespace riserkeep
