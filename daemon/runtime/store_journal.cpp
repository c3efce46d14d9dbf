#include "daemon/runtime/store_journal.h"

#include <utility>

#include "daemon/formats/event_json.h"

namespace riserkeep {

std::vector<JournalEvent> StoreJournal::append(const Stamped& input, const Effects& effects) {
  std::vector<JournalEvent> events;
  std::vector<OutboxRow> messages;
  for (const auto& [at, effect] : effects) {
    if (!is_event(effect)) continue;
    const auto wall = engine_.wall_known() ? std::optional(engine_.wall(at)) : std::nullopt;
    events.push_back(journal_event(engine_.site(), store_.next_event_seq(), wall, at, effect));
    if (const auto* notice = std::get_if<Notice>(&effect))
      for (auto& row : messages_(events.back().seq, at, wall, *notice)) messages.push_back(std::move(row));
  }
  store_.append(input, events, std::move(messages));
  return events;
}

void StoreJournal::barrier(std::function<void(bool durable)> done) {
  store_.barrier([to_loop = to_loop_, done = std::move(done)](bool durable) {
    to_loop([done, durable] { done(durable); });
  });
}

}  // namespace riserkeep
