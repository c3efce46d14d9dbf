// What keeps the judgement honest and only a person can do: when it was last done, by whom, what is overdue.
// `every` runs in elapsed time from the last time it was done, or from when the site file first asked for it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

std::string_view word(ChoreKind);                // "gauge comparison"
std::string_view unit_of(ChoreKind);             // of as found / as left

class Chores {
 public:
  // By chore of the site. Known by kind and the place's id, so that another site file mixes nothing up.
  struct State {
    ChoreKind kind{};
    std::string place;
    std::optional<EngineTime> first_seen, done, due;  // due: a date of the calendar, not yet done
    std::string by;
    void keep(Archive& a) { a(kind, place, first_seen, done, due, by); }
  };
  struct Overdue {
    std::uint16_t chore = 0;         // in the site's list
    EngineTime since;
    std::optional<EngineTime> done;  // the last time; absent: never
    EngineTime first_seen;
    std::string by;
  };
  static constexpr Duration kDoneAhead = days(90);    // a dated one may be done so long before its date

  explicit Chores(const Site&);
  void tick(EngineTime now);
  void calendar(std::uint16_t index, EngineTime now);
  // By command, with its note; also of a chore that the site does not list.
  bool done(const Site&, const ChoreDone&, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  // Something else counted as it: a hand reading, an air check, a commissioning with the gauge.
  void counted(const Site&, ChoreKind, PlaceId, std::string_view who, EngineTime at);
  std::vector<Overdue> overdue(const Site&, EngineTime now) const;  // the longest overdue first
  const std::vector<State>& states() const { return states_; }

  void keep(Archive&);

 private:
  std::vector<State> states_;        // by chore of the site
};

}  // namespace riserkeep
