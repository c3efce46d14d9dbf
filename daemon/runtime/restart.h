// What a start does with the record: restore the snapshot, replay the inputs after it with effects muted, and
// hold the events against those on disk. That proves replay = live at every start of every box.
#pragma once

#include <cstddef>
#include <string>

#include "daemon/history/store.h"
#include "rules/engine.h"

namespace riserkeep {

struct Replayed {
  std::size_t inputs = 0, events = 0;  // events compared
  bool equal = true;
  std::string difference;              // where and what, when not equal
};

Replayed replay_record(Engine&, const Restored&);

std::string saved(Engine&);            // what a snapshot holds

}  // namespace riserkeep
