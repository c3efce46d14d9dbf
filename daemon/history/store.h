// The record: handle to the one thread that writes journal.db and history.db. Nothing here blocks the loop,
// and nothing that goes wrong on the disk ends the process. docs/formats/journal.md.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/history/outbox_rows.h"
#include "rules/effect.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

// An event as it goes into the journal; `json` is what event_json() wrote.
struct JournalEvent {
  std::uint64_t seq = 0;
  EngineTime at;
  std::optional<WallTime> wall;
  std::string kind, point, json;
};
JournalEvent journal_event(const Site&, std::uint64_t seq, std::optional<WallTime>, EngineTime at, const Effect&);

// Where the engine's time stood against the boot's clock and the wall: told once at every start and whenever
// the mapping changes.
struct ClockMark {
  EngineTime engine;
  std::string boot_id;
  std::int64_t engine_minus_boot_ms = 0;             // CLOCK_BOOTTIME
  std::optional<std::int64_t> wall_minus_engine_ms;
  bool synchronised = false;
};

// What a start finds. Replaying `tail` on the engine loaded from `snapshot` must cause exactly `events`.
struct Restored {
  bool same_config = true;            // false: `tail` and `events` stay empty, indices mean other things
  std::optional<std::string> snapshot;
  Seq snapshot_upto{};
  std::vector<Stamped> tail;
  bool hole = false;                  // inputs are missing after the tail: never replayed across
  std::vector<JournalEvent> events;   // journaled since the snapshot, up to the end of the tail
  std::uint64_t first_event_seq = 1;  // the first one after the snapshot
  std::uint64_t next_event_seq = 1;
  Seq next_input{1};
  std::optional<EngineTime> last_at;  // newest engine time on record
  std::optional<ClockMark> clock;     // newest
  OutboxFound outbox;
  std::vector<std::string> notes;     // what was damaged, set aside or skipped; for a note and the log
};

struct StoreOptions {
  std::string config_text;                             // kept in the journal, once for each hash
  Duration commit_every = seconds(10);
  std::size_t queue_limit = 50'000;                    // inputs waiting for the disk
  std::size_t event_bytes_limit = std::size_t{8} << 20;  // events waiting for the disk
  std::size_t sample_bytes_limit = std::size_t{16} << 20;  // packed samples waiting for the disk
  std::uint64_t reserve_bytes = std::uint64_t{4} << 20;  // free space that samples leave to the journal
};

class Store {
 public:
  // `health` is called on the store's thread (during construction and restore() on the caller's), on changes only.
  // Throws std::runtime_error (where, what, cure) when the directory cannot be written at all.
  Store(std::filesystem::path state_dir, const Site& site, std::string config_sha256,
        std::function<void(BoxHealth)> health, StoreOptions options = {});
  ~Store();                                            // stop()
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  Restored restore();                                  // once, first; then the writer starts
  // `messages`: what the events decided to tell whom; in one transaction with them.
  void append(Stamped input, std::vector<JournalEvent> events, std::vector<OutboxRow> messages = {});
  void outbox(OutboxMark);
  void spend(SpentToken);
  // `done` runs on the store's thread when everything appended so far is on the disk, or is not (false).
  void barrier(std::function<void(bool durable)> done);
  void snapshot(std::string bytes, Seq upto);          // of the state after input `upto`
  void clock(ClockMark mark);
  bool wants_snapshot() const;                         // a hole, or a long tail: take one soon
  std::uint64_t next_event_seq();                      // hands out the next number
  void stop();                                         // everything to the disk, then the thread ends

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

// One process per state directory. Throws std::runtime_error when it cannot be made or another one has it.
class StateLock {
 public:
  explicit StateLock(const std::filesystem::path& state_dir);
  ~StateLock();
  StateLock(const StateLock&) = delete;
  StateLock& operator=(const StateLock&) = delete;

 private:
  int fd_;
};

// Is another process holding the directory's lock?
bool is_locked(const std::filesystem::path& state_dir);

}  // namespace riserkeep
