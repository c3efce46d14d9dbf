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
  StoreJournal(Store& store, const Engine& engine, std::function<void(std::function<void()>)> to_loop)
      : store_(store), engine_(engine), to_loop_(std::move(to_loop)) {}

  std::vector<JournalEvent> append(const Stamped&, const Effects&) override;
  void barrier(std::function<void(bool durable)> done) override;

 private:
  Store& store_;
  const Engine& engine_;
  std::function<void(std::function<void()>)> to_loop_;
};

}  // namespace riserkeep
