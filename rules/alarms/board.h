// All alarms of the site: one lifecycle per (class, place). Turns verdicts and operator commands into
// AlarmChanged effects.
#pragma once

#include <array>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/alarms/lifecycle.h"
#include "rules/alarms/rest.h"
#include "rules/alarms/shelf.h"
#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/judge/rule.h"
#include "rules/site.h"
#include "rules/site_names.h"

namespace riserkeep {

class AlarmBoard {
 public:
  // One verdict at `at`; `observed` is how much good time it stands for (0 after a gap).
  void judge(const Site&, ClassId, PlaceId, const Verdict&, EngineTime at, Duration observed, Effects& out);
  // Acknowledge by reference ("7K6", any case). False: no such alarm; `why_not` says so in words.
  bool acknowledge(const Site&, std::string_view reference, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  bool release(const Site&, SystemId, std::string_view who, EngineTime at, Effects& out, std::string& why_not);

  // Shelving, out of service (rests.cpp): notices only, never states. False: refused, with the reasons.
  bool shelve(const Site&, const Shelve&, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  bool unshelve(const Site&, const Unshelve&, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  bool service(const Site&, const OutOfService&, std::string_view who, EngineTime at, Effects& out, std::string& why_not);
  // Once a second, after all verdicts: ends shelvings, works out what is explained or expected.
  void rest(const Site&, EngineTime at, const std::vector<QuietWork>& work, Effects& out);
  // Why nobody is told of this alarm now; absent: people are told.
  std::optional<Rest> rests(ClassId, PlaceId) const;
  const Shelf& shelf() const { return shelf_; }

  bool standing(ClassId, PlaceId) const;              // condition true (or latched), whatever its acknowledgement
  bool pending(ClassId, PlaceId) const;               // on-delay running
  bool any_critical(const Site&, PlaceId) const;      // standing or latched
  // Standing or returned-unacknowledged, most urgent first.
  struct Item { ClassId alarm; PlaceId place; const AlarmLifecycle* life; };
  std::vector<Item> open() const;                     // pointers hold until the next judge()
  const AlarmLifecycle* find(ClassId, PlaceId) const;
  // A standing alarm, here or at what this place depends on, that explains this one: its notices may rest.
  std::optional<Item> explained_by(const Site&, ClassId, PlaceId) const;

  void rearrange(const Renumbering&);                 // after a restore: drops places the site no longer has
  void keep(Archive&);

 private:
  struct Entry {
    ClassId alarm{};
    PlaceId place;
    AlarmLifecycle life;
    std::optional<Rest> quiet;       // suppressed, or expected at work
    void keep(Archive& a) { a(alarm, place, life, quiet); }
  };
  static constexpr std::size_t kKinds = 6, kNone = static_cast<std::size_t>(-1);

  std::size_t slot(ClassId, PlaceId) const;           // into entries_; kNone when there is none
  AlarmLifecycle& made(ClassId, PlaceId);
  void index();
  AlarmChanged told(const Site&, const Entry&, AlarmChange, EngineTime at) const;
  void say(const Site&, const Entry&, AlarmChange, EngineTime at, std::string_view who, Effects& out) const;
  void say_rest(const Site&, const AlarmTargetPoint&, AlarmChange, const Rest&, EngineTime at, Effects& out) const;
  void end_shelving(const Site&, ClassId, PlaceId, std::string why, EngineTime at, Effects& out);
  void expire(const Site&, EngineTime at, Effects& out);
  void explain(const Site&, EngineTime at, Effects& out);
  std::vector<const Entry*> explainers() const;       // heard by somebody, or shelved
  std::optional<Item> explained_among(const std::vector<const Entry*>&, const Site&, ClassId, PlaceId) const;
  const QuietWork* at_work(ClassId, PlaceId) const;   // that expects this alarm
  std::optional<Rest> quiet_of(const std::vector<const Entry*>& explainers, const Site&, const Entry&, EngineTime at) const;

  std::deque<Entry> entries_;                         // only what was ever raised or pending in this run
  std::array<std::vector<std::uint16_t>, kKinds> table_;  // by kind: [place x class] -> 1 + index in entries_
  std::uint64_t next_ = 1;                            // occurrence
  Shelf shelf_;
  std::vector<QuietWork> work_;
  bool changed_ = true;                               // since explain() looked; not kept: looking again changes nothing
};

}  // namespace riserkeep
