// Carries out what the engine decided, in the only safe order: what returns an output to its safe state acts
// at once and is journaled after; an opening waits until its intent is durable and goes out only if it is
// still wanted then. Without a journal nothing opens. No I/O, no thread: loop thread only.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/history/store.h"
#include "drivers/instrument.h"
#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

// The two sides the executor stands between. Implemented over the store and the buses, and by tests.
class JournalPort {
 public:
  virtual ~JournalPort() = default;
  // What it makes of the effects are the step's events, numbered.
  virtual std::vector<JournalEvent> append(const Stamped&, const Effects&) = 0;
  // `done` runs on the loop, later, with whether everything appended so far is durable.
  virtual void barrier(std::function<void(bool durable)> done) = 0;
};
class OutputPort {
 public:
  virtual ~OutputPort() = default;
  virtual void order(const OutputOrder&) = 0;
};

struct CommandAnswer { bool done = false; std::string why_not; };

class Executor {
 public:
  using Publish = std::function<void(const JournalEvent&, bool stored)>;   // in the order they were decided
  using Feed = std::function<void(Input)>;                          // back into the engine: an order that never went

  Executor(const Site&, const Clock&, JournalPort&, OutputPort&, Publish, Feed);

  // After every step of the engine.
  void carry_out(const Stamped&, Effects);
  // The step was an operator's command. `refusal`: the engine's reasons, empty when it took it.
  void answer_command(const std::string& refusal, std::function<void(CommandAnswer)>);

  // What waited too long for the journal goes out marked "not stored"; commands are told so.
  void due(EngineTime now);
  std::optional<EngineTime> next_deadline() const;
  bool opening_waits() const { return !waiting_.empty(); }

 private:
  struct Batch {
    EngineTime since;
    std::vector<JournalEvent> events;
    std::function<void(CommandAnswer)> answer;
    bool durable = false;
  };

  bool to_safe(const OutputOrder&) const;
  void order_now(const OutputOrder&);
  void open_when_durable(const OutputOrder&);
  void opened(const OutputOrder&, bool durable);
  void wait_for_disk(std::shared_ptr<Batch>);
  void release(EngineTime now);

  const Site& site_;
  const Clock& clock_;
  JournalPort& journal_;
  OutputPort& outputs_;
  Publish publish_;
  Feed feed_;
  std::vector<OrderNo> newest_;                      // by output
  std::map<OutputId, OrderNo> waiting_;              // openings not yet durable
  std::deque<std::shared_ptr<Batch>> batches_;       // oldest first
  std::shared_ptr<bool> alive_ = std::make_shared<bool>(true);
};

}  // namespace riserkeep
