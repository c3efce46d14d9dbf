// The store as the executor sees it: effects become numbered events, answers of the disk come back to the loop.
#pragma once

#include <functional>
#include <vector>

#include "daemon/history/store.h"
#include "daemon/runtime/executor.h"
#include "rules/engine.h"

namespace riserkeep {

class StoreJournal : public JournalPort {
 public:
  // `to_loop` runs what it is given on the loop, later; callable from any thread.
  // `messages` makes of a notice what waits for its people.
  using Messages = std::function<std::vector<OutboxRow>(std::uint64_t seq, EngineTime at, std::optional<WallTime>, const Notice&)>;
  StoreJournal(Store& store, const Engine& engine, std::function<void(std::function<void()>)> to_loop, Messages messages)
      : store_(store), engine_(engine), to_loop_(std::move(to_loop)), messages_(std::move(messages)) {}

  std::vector<JournalEvent> append(const Stamped&, const Effects&) override;
  void barrier(std::function<void(bool durable)> done) override;

 private:
  Store& store_;
  const Engine& engine_;
  std::function<void(std::function<void()>)> to_loop_;
  Messages messages_;
};

}  // namespace riserkeep
