#include "rules/alarms/shelf.h"

#include <algorithm>
#include <array>

namespace riserkeep {
namespace {

bool within(const AlarmTargetPoint& record, const AlarmTargetPoint& asked) {
  return record == asked || (!asked.alarm && record.place == asked.place);
}

template <class Record>
std::vector<Record> taken(std::vector<Record>& from, const AlarmTargetPoint& target) {
  std::vector<Record> out;
  std::erase_if(from, [&](const Record& r) {
    if (!within(r.target, target)) return false;
    out.push_back(r);
    return true;
  });
  return out;
}

template <class Record>
void replaced(std::vector<Record>& list, Record record) {
  std::erase_if(list, [&](const Record& r) { return r.target == record.target; });
  list.push_back(std::move(record));
}

template <class Record>
const Record* covering(const std::vector<Record>& list, ClassId c, PlaceId p) {
  const auto found = std::ranges::find_if(list, [&](const Record& r) {
    if constexpr (requires { r.covers(c, p); }) return r.covers(c, p);
    else return r.target.covers(c, p);
  });
  return found == list.end() ? nullptr : &*found;
}

}  // namespace

std::string_view word(RestReason r) {
  static constexpr std::array<std::string_view, 4> kWords{"out_of_service", "shelved", "work", "suppressed"};
  return kWords[static_cast<std::size_t>(r)];
}

bool may_be_shelved(ClassId c) { return class_of(c).category != Category::safety; }
bool Shelved::covers(ClassId c, PlaceId p) const { return target.covers(c, p) && may_be_shelved(c); }

void Shelf::shelve(Shelved s) { replaced(shelved_, std::move(s)); }
void Shelf::take_out(OutOfServiceRecord r) { replaced(out_, std::move(r)); }
const Shelved* Shelf::shelved(ClassId c, PlaceId p) const { return covering(shelved_, c, p); }
const OutOfServiceRecord* Shelf::out(ClassId c, PlaceId p) const { return covering(out_, c, p); }
Shelved Shelf::unshelve_one(const AlarmTargetPoint& target) {
  const auto found = std::ranges::find(shelved_, target, &Shelved::target);
  Shelved out = *found;
  shelved_.erase(found);
  return out;
}
std::vector<Shelved> Shelf::unshelve(const AlarmTargetPoint& t) { return taken(shelved_, t); }
std::vector<OutOfServiceRecord> Shelf::put_back(const AlarmTargetPoint& t) { return taken(out_, t); }

}  // namespace riserkeep
