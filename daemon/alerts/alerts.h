// Everything between a notice decided and a person told: rows for the journal, outbox, courier, links, heartbeat,
// health. Loop thread; the courier's answers come back to it.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/site.h"
#include "daemon/alerts/ack_link.h"
#include "daemon/alerts/courier.h"
#include "daemon/alerts/heartbeat.h"
#include "daemon/alerts/mail.h"
#include "daemon/alerts/outbox.h"
#include "daemon/history/store.h"
#include "rules/alarms/board.h"
#include "rules/effect.h"
#include "rules/input.h"

namespace riserkeep {

// Ways to people that are set up: a mail address is none without a mail server.
std::vector<Recipient> recipients(const Description&);

class Alerts {
 public:
  struct Ports {
    std::function<void(OutboxMark)> mark;                      // to the journal
    std::function<void(std::function<void(bool durable)>)> barrier;   // answers on the loop
    std::function<void(Input)> feed;                           // back into the engine
    std::function<void(std::function<void()>)> to_loop;        // from any thread
    std::function<const AlarmBoard&()> alarms;                 // for the links: which occurrence a reference is
  };
  // `what` and the ports must outlive this.
  Alerts(const Description& what, std::string link_key, Ports);
  ~Alerts();

  void restore(OutboxFound, bool engine_says_well, EngineTime now);
  void start();

  // The rows of a notice, to be stored with event `seq`; it goes out when that event is published.
  std::vector<OutboxRow> decided(std::uint64_t seq, EngineTime at, std::optional<WallTime>, const Notice&);
  void published(std::uint64_t seq, bool stored, EngineTime now);

  // Once a second, and whenever something may have become due.
  void due(EngineTime now, std::optional<WallTime> wall);
  void beat(EngineTime now, bool alive);                       // alive: loop and buses make progress
  // `done`: delivered, or words on why not; a test is not tried again. `limit`: then it is told that nobody answered.
  struct TestResult { std::string person, way; bool delivered = false; std::string words; };
  void watch_test(const std::string& person, EngineTime now, Duration limit, std::function<void(TestResult)> done);
  void end_test(const TestResult&);        // it came to nothing, as said

  Outbox::Summary summary() const { return outbox_.summary(); }
  const std::string& heartbeat_trouble() const { return heartbeat_.trouble(); }
  // For the page behind a link; what was spent belongs into the store.
  AckLinks& links() { return links_; }

  bool busy() const { return !decided_.empty() || !waiting_.empty() || !under_way_.empty(); }
  void stop();                             // what is under way is cut off: it goes out again, marked

 private:
  struct Decided { std::uint64_t seq; std::vector<Message> messages; };
  struct Waiting { Outbox::Attempt attempt; EngineTime since; };   // until the disk knows that it is under way
  struct Watched { std::string person; EngineTime until; std::function<void(TestResult)> done; };
  struct UnderWay { std::string person, way; bool test = false; };

  void hand_over(EngineTime now, std::optional<WallTime> wall);
  void send(const Outbox::Attempt&, std::optional<WallTime> wall);
  void answered(std::uint64_t ticket, const Outcome&);
  void flush_marks();
  void look_at_health(EngineTime now);
  std::vector<std::string> links_for(const Message&, std::optional<WallTime> now) const;

  const Description& what_;
  SiteNames site_;
  Ports ports_;
  Outbox outbox_;
  AckLinks links_;
  Heartbeat heartbeat_;
  std::deque<Decided> decided_;
  std::map<std::uint64_t, Waiting> waiting_;
  std::map<std::uint64_t, UnderWay> under_way_;
  std::vector<Watched> watched_;
  EngineTime now_;
  std::optional<WallTime> wall_;
  bool well_ = true, stopping_ = false;
  std::shared_ptr<bool> alive_ = std::make_shared<bool>(true);
  Courier courier_;                        // last: its thread uses what is above
};

}  // namespace riserkeep
