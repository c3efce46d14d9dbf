// journal.db: what must not be lost. Hash-chained events, the inputs since the last snapshots, the clock's
// mapping, the configurations. Used by one thread at a time. docs/formats/journal.md.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/history/clock_map.h"
#include "daemon/history/database.h"
#include "daemon/history/outbox_rows.h"
#include "daemon/history/store.h"

namespace riserkeep {

// Inputs and events that go to the disk together: an effect never outlives its inputs.
struct JournalBatch {
  struct Event { std::uint64_t input; JournalEvent event; };
  std::vector<Stamped> inputs;
  std::vector<Event> events;
  std::vector<ClockMark> marks;
  std::vector<OutboxRow> messages;         // decided by `events`
  std::vector<OutboxMark> message_marks;
  std::vector<SpentToken> spent;
  bool empty() const {
    return inputs.empty() && events.empty() && marks.empty() && messages.empty() && message_marks.empty() && spent.empty();
  }
};

struct StoredSnapshot {
  std::uint64_t upto = 0;
  EngineTime at;
  std::string bytes;
};

class Journal {
 public:
  // Throws DatabaseError, also when a check finds the file damaged.
  explicit Journal(const std::filesystem::path& file);

  // The configuration that the following inputs belong to; `channels` is ChannelList::text().
  void use_config(const std::string& sha256, const std::string& channels, const std::string& text);
  void commit(const JournalBatch&);
  // Keeps the two newest; drops the tail that neither they nor the history (inputs after `history_has`) need.
  void snapshot(const StoredSnapshot&, std::uint64_t history_has);
  Restored restore();
  Database& database() { return db_; }

 private:
  void create();
  void create_first();
  void insert_inputs(const std::vector<Stamped>&);
  void insert_events(const std::vector<JournalBatch::Event>&);
  void insert_marks(const std::vector<ClockMark>&);
  void restore_tail(Restored&);
  void restore_events(Restored&);

  Database db_;
  std::int64_t config_ = 0;
  std::string last_hash_;              // of the newest event
};

// Opens journal.db in `state_dir`, setting a damaged one aside; `notes` tells.
std::unique_ptr<Journal> open_journal(const std::filesystem::path& state_dir, std::vector<std::string>& notes);

// Walks the inputs after `after`, oldest first, each with the row id of its configuration. False when a row
// is damaged: the walk ends there.
bool for_each_input(Database& journal, std::uint64_t after,
                    const std::function<void(std::int64_t config, Stamped&&)>& take);
// The newest snapshot whose bytes are what was written; `skipped` counts damaged ones.
struct FoundSnapshot { StoredSnapshot snapshot; std::int64_t config = 0; };
std::optional<FoundSnapshot> newest_snapshot(Database& journal, int* skipped = nullptr, bool oldest = false);
ClockMap read_clock(Database& journal);

// Walks the chain of events from its first row.
struct ChainResult {
  std::uint64_t events = 0;
  std::optional<std::uint64_t> first_bad;  // seq of the first event whose hash does not follow
};
ChainResult verify_chain(Database& journal);

// SHA-256 over the hash before and the row; binary, 32 bytes.
std::string event_hash(std::string_view before, std::uint64_t input, const JournalEvent&);

}  // namespace riserkeep
