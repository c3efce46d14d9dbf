#include "daemon/history/store.h"

#include <fmt/format.h>

#include <utility>

#include "daemon/formats/event_json.h"
#include "daemon/history/store_parts.h"

namespace riserkeep {

JournalEvent journal_event(const Site& site, std::uint64_t seq, std::optional<WallTime> wall, EngineTime at, const Effect& e) {
  return {seq, at, wall, std::string{event_kind(e)}, std::string{place_id(site, event_place(site, e))},
          event_json(site, seq, wall, at, e)};
}

Store::Store(std::filesystem::path state_dir, const Site& site, std::string config_sha256,
             std::function<void(BoxHealth)> health, StoreOptions options)
    : parts_(std::make_unique<Parts>(std::move(state_dir), site, std::move(config_sha256), std::move(health), std::move(options))) {
  parts_->open();
  parts_->report();
}

Store::~Store() { stop(); }

Restored Store::restore() {
  Parts& p = *parts_;
  Restored r;
  if (p.journal) {
    try {
      r = p.journal->restore();
      p.rebuild_samples();
    } catch (const DatabaseError& e) {
      r = {};
      r.hole = true;
      p.journal_trouble = fmt::format("journal.db: {}", e.what());
      p.notes.push_back(p.journal_trouble);
      p.reopen_journal(true);
    }
  }
  r.next_input = std::max(r.next_input, Seq{p.samples.has() + 1});
  r.notes.insert(r.notes.begin(), p.notes.begin(), p.notes.end());
  p.notes.clear();
  p.event_seq = r.next_event_seq;
  p.committed = number(r.next_input) - 1;
  p.tail_inputs = r.tail.size();
  if (r.clock) p.newest_mark = *r.clock;
  if (r.last_at) {
    p.newest_at = *r.last_at;
    p.seen_hour = static_cast<std::uint64_t>(r.last_at->time_since_epoch().count() / kHourMs);
  }
  p.gap = r.hole || !r.same_config;
  p.report();
  p.thread = std::thread{[&p] { p.run(); }};
  return r;
}

void Store::append(Stamped input, std::vector<JournalEvent> events, std::vector<OutboxRow> messages) {
  Parts& p = *parts_;
  if (const auto* w = std::get_if<WallMapped>(&input.input)) {
    ClockMark mark = p.newest_mark;
    mark.engine = input.at;
    mark.wall_minus_engine_ms = w->wall_minus_engine_ms;
    mark.synchronised = w->synchronised;
    clock(std::move(mark));
  }
  const std::lock_guard lock{p.mutex};
  const auto seq = number(input.seq);
  p.newest_at = std::max(p.newest_at, input.at);
  for (JournalEvent& e : events) {
    const std::size_t bytes = weight(e);
    if (p.event_bytes_waiting + bytes > p.options.event_bytes_limit) { p.gap = true; continue; }
    p.event_bytes_waiting += bytes;
    p.inbox.batch.events.push_back({seq, std::move(e)});
  }
  for (OutboxRow& m : messages) {
    const std::size_t bytes = weight(m);
    if (p.event_bytes_waiting + bytes > p.options.event_bytes_limit) continue;
    p.event_bytes_waiting += bytes;
    p.inbox.batch.messages.push_back(std::move(m));
  }
  if (p.inputs_waiting >= p.options.queue_limit) { p.gap = true; return; }
  ++p.inputs_waiting;
  p.inbox.batch.inputs.push_back(std::move(input));
}

void Store::outbox(OutboxMark mark) {
  const std::lock_guard lock{parts_->mutex};
  const std::size_t bytes = weight(mark);
  if (parts_->event_bytes_waiting + bytes > parts_->options.event_bytes_limit) return;   // at worst one repeat more
  parts_->event_bytes_waiting += bytes;
  parts_->inbox.batch.message_marks.push_back(std::move(mark));
}

void Store::spend(SpentToken token) {
  const std::lock_guard lock{parts_->mutex};
  parts_->inbox.batch.spent.push_back(std::move(token));
}

void Store::barrier(std::function<void(bool)> done) {
  const std::lock_guard lock{parts_->mutex};
  parts_->inbox.barriers.push_back(std::move(done));
  parts_->hurry = true;
  parts_->wake.notify_one();
}

void Store::snapshot(std::string bytes, Seq upto) {
  const std::lock_guard lock{parts_->mutex};
  parts_->inbox.snapshot = StoredSnapshot{number(upto), parts_->newest_at, std::move(bytes)};
  parts_->gap = false;
}

void Store::clock(ClockMark mark) {
  const std::lock_guard lock{parts_->mutex};
  ClockMark& before = parts_->newest_mark;
  if (before.boot_id == mark.boot_id && before.engine_minus_boot_ms == mark.engine_minus_boot_ms &&
      before.wall_minus_engine_ms == mark.wall_minus_engine_ms && before.synchronised == mark.synchronised)
    return;
  before = mark;
  if (parts_->inbox.batch.marks.size() < 1000) parts_->inbox.batch.marks.push_back(std::move(mark));
}

bool Store::wants_snapshot() const { return parts_->gap || parts_->tail_inputs > kLongTail; }

std::uint64_t Store::next_event_seq() { return parts_->event_seq++; }

void Store::stop() {
  Parts& p = *parts_;
  if (!p.thread.joinable()) return;
  {
    const std::lock_guard lock{p.mutex};
    p.stopping = true;
    p.wake.notify_one();
  }
  p.thread.join();
  if (p.journal) p.journal->database().checkpoint(true);
}

}  // namespace riserkeep
