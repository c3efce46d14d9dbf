// What people shelved or took out of service: records by alarm point or by whole place. Bounded by the points
// of the site: a new record replaces the old one of the same target.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/alarms/rest.h"
#include "rules/judge/classes.h"

namespace riserkeep {

// One alarm point, or every alarm of a place.
struct AlarmTargetPoint {
  std::optional<ClassId> alarm;      // absent: all of the place
  PlaceId place;
  bool covers(ClassId c, PlaceId p) const { return place == p && (!alarm || *alarm == c); }
  friend bool operator==(const AlarmTargetPoint&, const AlarmTargetPoint&) = default;
  void keep(Archive& a) { a(alarm, place); }
};

struct Shelved {
  AlarmTargetPoint target;
  std::string who, why;
  EngineTime since, until;
  bool until_clear = false;          // one-shot: ends when the condition goes
  bool stood = false;                // the condition was true at some time while shelved
  bool covers(ClassId, PlaceId) const;  // never what threatens people or trips a valve
  void keep(Archive& a) { a(target, who, why, since, until, until_clear, stood); }
};

struct OutOfServiceRecord {
  AlarmTargetPoint target;
  std::string who, why;
  EngineTime since;
  void keep(Archive& a) { a(target, who, why, since); }
};

// Safety alarms are not shelved: they are silenced by work windows and by out of service only, with a reason.
bool may_be_shelved(ClassId);

class Shelf {
 public:
  static constexpr Duration kLongestPlain = hours(24);   // beyond: with a reason
  static constexpr Duration kLongest = days(30);

  void shelve(Shelved);
  void take_out(OutOfServiceRecord);
  const Shelved* shelved(ClassId, PlaceId) const;
  const OutOfServiceRecord* out(ClassId, PlaceId) const;
  const std::vector<Shelved>& shelved() const { return shelved_; }
  const std::vector<OutOfServiceRecord>& out() const { return out_; }
  std::vector<Shelved>& shelved_records() { return shelved_; }

  Shelved unshelve_one(const AlarmTargetPoint&);  // exactly this record, which must be there
  // Removes the records of this target (of a place: of all its points too) and gives them back.
  std::vector<Shelved> unshelve(const AlarmTargetPoint&);
  std::vector<OutOfServiceRecord> put_back(const AlarmTargetPoint&);

  template <class Moved>
  void moved(Moved where) {          // another site file: `where(PlaceId)` is the place's new number, if it is still there
    const auto each = [&](auto& records) {
      std::erase_if(records, [&](const auto& r) { return !where(r.target.place); });
      for (auto& r : records) r.target.place = *where(r.target.place);
    };
    each(shelved_);
    each(out_);
  }
  void keep(Archive& a) { a(shelved_, out_); }

 private:
  std::vector<Shelved> shelved_;
  std::vector<OutOfServiceRecord> out_;
};

}  // namespace riserkeep
