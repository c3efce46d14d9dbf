// All alarms of the site: one lifecycle per (class, place). Turns verdicts and operator commands into
// AlarmChanged effects.
#pragma once

#include <map>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "rules/alarms/lifecycle.h"
#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/judge/rule.h"
#include "rules/site.h"

namespace riserkeep {

class AlarmBoard {
 public:
  // One verdict at `at`; `observed` is how much good time it stands for (0 after a gap).
  void judge(const Site&, ClassId, PlaceId, const Verdict&, EngineTime at, Duration observed, Effects& out);
  // Acknowledge by reference ("7K6", any case). False: no such alarm; `why_not` says so in words.
  bool acknowledge(const Site&, std::string_view reference, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  bool release(const Site&, SystemId, std::string_view who, EngineTime at, Effects& out, std::string& why_not);

  bool standing(ClassId, PlaceId) const;              // condition true (or latched), whatever its acknowledgement
  bool pending(ClassId, PlaceId) const;               // on-delay running
  bool any_critical(const Site&, PlaceId) const;      // standing or latched
  // Standing or returned-unacknowledged, most urgent first.
  struct Item { ClassId alarm; PlaceId place; const AlarmLifecycle* life; };
  std::vector<Item> open() const;
  const AlarmLifecycle* find(ClassId, PlaceId) const;

  void keep(Archive& a) { a(lives_, next_); }

 private:
  std::map<std::pair<ClassId, PlaceId>, AlarmLifecycle> lives_;
  std::uint64_t next_ = 1;                            // occurrence
};

}  // namespace riserkeep
