// Who still has to hear what, by which way, and when to try again. A state machine without I/O or clock: fed
// with time, it says what to send now; the answers come back by ticket. What must survive a kill leaves as
// OutboxMark. One message at a time per person (so they arrive in order) and per server.
#pragma once

#include <cstdint>
#include <list>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/alerts/message.h"
#include "daemon/history/outbox_rows.h"
#include "rules/site.h"

namespace riserkeep {

struct OutboxLimits {
  Duration give_up = hours(48);
  int next_way_after = 5;                  // failures running
  Duration first_pause = seconds(30), longest_pause = minutes(15);
  Duration overdue = minutes(15);          // undelivered for so long is a trouble of its own
};

// What became of an attempt.
struct Outcome {
  enum class Kind : std::uint8_t {
    delivered,
    refused,        // for good, this message or this address: 550
    later,          // this address, for now: 451
    unreachable,    // the server: no connection, no TLS, wrong password, no answer in time
  } kind = Kind::unreachable;
  bool may_have_arrived = false;           // everything was sent, the answer is missing
  std::string words;                       // exactly what went wrong
};

struct Recipient { std::string id; std::vector<Reach> reach; };   // only ways that are set up

class Outbox {
 public:
  struct Attempt {
    std::uint64_t ticket = 0;
    const Message* message = nullptr;      // until answered
    Reach reach;
    bool repeat = false, stored = true;
  };
  struct WaySummary {
    std::string way;                       // "mail" or the address that is posted to
    std::size_t waiting = 0;
    int failures = 0;                      // running
    std::string error;                     // of the newest attempt, empty when it went well
    std::optional<EngineTime> failing_since, delivered;
  };
  struct Summary {
    std::size_t waiting = 0, given_up = 0; // given up: since the start
    std::uint64_t delivered = 0;           // since the start
    std::optional<EngineTime> oldest;
    std::vector<WaySummary> ways;
  };

  Outbox(OutboxLimits, std::vector<Recipient>);

  // False: there is no such person, or no way to reach them.
  bool add(Message, EngineTime now, bool stored = true);
  // From the disk, in the order they were decided; before anything else.
  bool resume(Message, const OutboxRow&);
  void resume_lost(const std::string& person);

  std::vector<Attempt> due(EngineTime now);
  void answered(std::uint64_t ticket, const Outcome&, EngineTime now);

  std::vector<OutboxMark> take_marks();    // for the disk, in this order
  Summary summary() const;
  // Why messages are not well; absent: they are.
  std::optional<std::string> trouble(EngineTime now) const;
  bool idle() const;                       // nothing waits
  bool reaches(const std::string& person) const;

 private:
  struct Health {                          // of a server, or of one address behind it
    int failures = 0;
    std::string error;
    EngineTime tried, next;
    std::optional<EngineTime> since, delivered;
    bool busy = false;
  };
  struct Try { int failures = 0; bool refused = false; };
  struct Delivery {
    Message message;
    std::vector<Try> tries;                // by way
    bool stored = true, repeat = false;
    std::uint64_t ticket = 0;              // 0: not under way
    std::size_t way = 0;
    int failures = 0;                      // in all
    std::string error;
  };
  using Queue = std::list<Delivery>;
  struct Person { Recipient who; Queue queue; std::string lost; };
  struct Found { Person* person; Queue::iterator at; };

  Person* person(const std::string& id);
  const Person* person(const std::string& id) const;
  Found find(std::uint64_t ticket);
  bool usable(const Person&, const Delivery&, std::size_t way) const;
  bool preferred(const Person&, const Delivery&, std::size_t way, EngineTime now) const;
  bool ready(const Reach&, EngineTime now) const;
  int running(const Delivery&, const Person&, std::size_t way) const;
  std::optional<std::size_t> choose(const Person&, const Delivery&, EngineTime now) const;
  void expire(Person&, EngineTime now);
  void begin(Person&, Delivery&, std::size_t way, EngineTime now, std::vector<Attempt>& out);
  void failed(Health&, const std::string& words, EngineTime now);
  void succeeded(Health&, EngineTime now, bool delivered = true);
  void settle(Person&, Queue::iterator, OutboxEnd, EngineTime now);
  void mark(const Delivery&, const std::string& way, EngineTime now, std::optional<OutboxEnd> = {});
  Health& server(const Reach&);
  Health& address(const Reach&);
  const Health* find_health(const std::string& key) const;

  OutboxLimits limits_;
  std::vector<Person> people_;
  std::map<std::string, Health> health_;
  std::vector<OutboxMark> marks_;
  std::uint64_t next_ticket_ = 1, delivered_ = 0;
  std::size_t given_up_ = 0;
};

}  // namespace riserkeep
