// Who is told what, and when: one message per cause. Fed with every change of an alarm and a tick a second;
// answers Notice effects. How it decides: docs/notices.md.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "rules/input.h"
#include "rules/notices/people.h"
#include "rules/notices/topic.h"
#include "rules/view.h"

namespace riserkeep {

class Notices {
 public:
  void heard(const Site&, const AlarmChanged&, EngineTime at);   // remembered; told by a tick
  void tick(const SiteView&, Effects& out);                      // once a second, after all that was heard
  void turned(const SiteView&, const CalendarTurned&, Effects& out);  // of a person, and all_well

  void resumed(const SiteView&, std::optional<Duration> stopped, Effects& out);  // absent: length unknown
  void stopping(const SiteView&, std::string_view why, Effects& out);
  void test(const SiteView&, PersonId, std::string_view who, Effects& out, std::string& why_not);
  // Work that lasts longer than was said: to `owner` where that is the id of a person, else to those concerned.
  void tell_overrun(const SiteView&, SystemId, std::string_view owner, std::string_view what, EngineTime since, Effects& out);
  // Chores overdue, one line each ("gauge comparison of Loading dock, due 12 d ago"): waits for the morning.
  void tell_chores(const SiteView&, const std::vector<std::string>& overdue, EngineTime since, Effects& out);

  void fit(const Site&);                                         // after a restore: drops what the site no longer has
  // Another site file: `where(PlaceId)` is the place's new number, if it is still there. Then fit() for the people.
  using Where = std::function<std::optional<PlaceId>(PlaceId)>;
  void moved(const Where&);
  void keep(Archive&);

 private:
  struct Candidate;                                              // of the gathering
  enum class Fate : std::uint8_t { told, explained, rests, later, settled };

  void raised(const Site&, const AlarmChanged&, EngineTime at);
  void got_worse(const AlarmChanged&, EngineTime at);
  void ended(const AlarmChanged&, EngineTime at);
  void acknowledged(const AlarmChanged&);
  void rejoin(const Site&, Watched&, Topic&, EngineTime at);
  Member* member_of(const AlarmChanged&);                        // in its topic

  void gather(Watched&, EngineTime due);
  void parents_returned(const SiteView&);
  void split_children(const SiteView&, AlarmKey parent);
  void rested(const SiteView&);
  void tell_gathered(const SiteView&, Effects& out);
  Fate fate_of(const SiteView&, const Candidate&);
  void explain(const SiteView&, std::vector<Candidate>&, std::size_t child, Effects& out);
  std::vector<Candidate> candidates(const SiteView&);
  std::vector<AlarmKey> group(const SiteView&, std::vector<Candidate>&, std::size_t leader);
  void tell(const SiteView&, const std::vector<AlarmKey>&, Effects& out);

  void follow(const SiteView&, TopicId, Topic&, Effects& out);
  bool close(const SiteView&, TopicId, Topic&, Effects& out);    // true: the topic is over and told
  void calm_down(const SiteView&, TopicId, Topic&, Effects& out);
  void remind(const SiteView&, TopicId, Topic&, Effects& out);
  void escalate(const SiteView&, TopicId, Topic&, Effects& out);
  void remind_in_the_morning(const SiteView&, PersonId, Effects& out);
  void say(const SiteView&, TopicId, Topic&, NoticeKind, std::vector<PersonId> to, Effects& out);
  void forget(const SiteView&);
  void tend(const SiteView&, Effects& out);                      // work that overruns, chores overdue: duties.cpp
  void tend_work(const SiteView&, Effects& out);
  void tend_chores(const SiteView&, Effects& out);

  People people_;
  std::map<AlarmKey, Watched> points_;
  std::map<TopicId, Topic> topics_;
  std::vector<AlarmKey> gathering_, explained_, resting_, returned_;
  TopicId next_ = 1;
  std::optional<EngineTime> started_told_, chores_told_;
  std::map<SystemId, EngineTime> overrun_told_;
  std::vector<std::uint16_t> chores_known_;                      // overdue and told, by their place in the site's list
};

}  // namespace riserkeep
