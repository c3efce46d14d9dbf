// The people of the site as the notices know them: quiet hours, what waits for them, how much they got.
#pragma once

#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "rules/notices/topic.h"
#include "rules/site.h"

namespace riserkeep {

struct Receiver {
  std::string person;                  // its id: the list may change its order over a reload
  bool quiet = false;                  // quiet hours run
  std::deque<EngineTime> sent;         // of the last 24 h
  std::vector<Draft> held;             // for the morning or the end of quiet hours
  std::vector<Draft> beyond;           // over the flood limit or the daily cap: becomes a digest
  std::optional<EngineTime> digest_due, held_since;
  void keep(Archive& a) { a(person, quiet, sent, held, beyond, digest_due, held_since); }
};

class People {
 public:
  // To everyone of `to`, now or later as their hours say. Those who get it now share one Notice.
  void send(const Site&, EngineTime now, const Draft&, const std::vector<PersonId>& to, Effects& out);
  void send_now(const Site&, EngineTime now, const Draft&, const std::vector<PersonId>& to, Effects& out);
  void tick(const Site&, EngineTime now, Effects& out);
  void morning(const Site&, PersonId, EngineTime now, Effects& out);
  void quiet_hours(const Site&, PersonId, bool begin, EngineTime now, Effects& out);

  // What waits about this topic gets these words added ("over after 3 min"). Who has it still waiting is returned.
  std::vector<PersonId> amend(TopicId, const std::string& words);
  bool waits(PersonId, TopicId) const;

  // Who that was before the site file changed, in its order now; asked before fit().
  std::optional<PersonId> same_person(const Site&, PersonId before) const;
  void fit(const Site&);
  void moved(const std::function<std::optional<PlaceId>(PlaceId)>& where);  // places of what waits
  void keep(Archive& a) { a(receivers_, next_); }

 private:
  void flush(const Site&, PersonId, bool morning, EngineTime now, Effects& out);
  void say(const Site&, EngineTime now, const Draft&, std::vector<PersonId> to, Effects& out);

  std::vector<Receiver> receivers_;    // by person of the site
  std::uint64_t next_ = 1;             // notice
};

// Does an alarm at `place` concern this person: one of their places, what those depend on, or the box.
bool concerns(const Site&, const Person&, PlaceId place);

}  // namespace riserkeep
