// What the notices remember: each alarm as it was told, the topics (one cause, one message), and the people.
#pragma once

#include <deque>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "rules/archive.h"
#include "rules/effect.h"
#include "rules/judge/classes.h"
#include "rules/notices/flap.h"

namespace riserkeep {

using AlarmKey = std::pair<ClassId, PlaceId>;
using TopicId = std::uint32_t;         // 0 = none

// One occurrence, with the words it was raised with: it may be over before it is told.
struct Member {
  OccurrenceId id{};
  ClassId alarm{};
  PlaceId place;
  Priority priority{};
  EngineTime since;
  std::optional<EngineTime> ended;
  bool acknowledged = false;
  bool child = false;                  // explained by the first of its topic
  std::optional<double> value, limit;
  std::string unit, cause;

  AlarmKey key() const { return {alarm, place}; }
  bool standing() const { return !ended; }
  void keep(Archive& a) { a(id, alarm, place, priority, since, ended, acknowledged, child, value, limit, unit, cause); }
};

enum class Stage : std::uint8_t {
  quiet,       // normal, or nobody waits to hear of it
  gathering,   // raised; told when the gathering time is over
  explained,   // a standing alarm explains it
  resting,     // shelved, out of service or under work
  told,        // part of a topic
};

// One alarm point over its occurrences.
struct Watched {
  Stage stage = Stage::quiet;
  Member member;                       // the newest occurrence
  EngineTime due;                      // gathering
  AlarmKey parent{};                   // explained; gathering again because this one returned
  bool still_bad = false;
  TopicId topic = 0;
  Flap flap;
  void keep(Archive& a) { a(stage, member, due, parent, still_bad, topic, flap); }
};

// Somebody who was told of a topic.
struct Told {
  PersonId person;
  EngineTime at;                       // newest message; moves on while nothing is measured
  void keep(Archive& a) { a(person, at); }
};

struct Topic {
  std::vector<Member> members;         // the cause first
  NoticeKind kind{};
  EngineTime opened;                   // when it was decided
  std::optional<EngineTime> over, again;  // all members over since; to be told again because it got worse
  bool unstable = false;
  int raises = 0;
  EngineTime unstable_from;            // when it began to come and go
  std::vector<Told> told;
  Duration escalated{};                // everyone whose `after` is up to this has been thought of
  void keep(Archive& a) { a(members, kind, opened, over, again, unstable, raises, unstable_from, told, escalated); }

  Priority priority() const;           // highest of the members
  bool unacknowledged() const;         // a member stands and waits for it
  EngineTime began() const;
};

// One message without its receivers.
struct Draft {
  NoticeKind kind{};
  TopicId topic = 0;
  Priority priority{};
  bool urgent = false;
  PlaceId place;
  EngineTime since;
  std::vector<std::string> references;
  std::string subject, short_text, long_text;
  bool about_delivery = false;
  bool until_morning = false;          // held: for the working morning, not only for the end of quiet hours
  void keep(Archive& a) {
    a(kind, topic, priority, urgent, place, since, references, subject, short_text, long_text, about_delivery, until_morning);
  }
};

}  // namespace riserkeep
