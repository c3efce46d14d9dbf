// Inside of Store: what the loop and the writer share, and what is the writer's own. For store*.cpp only.
#pragma once

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <thread>

#include "daemon/history/journal.h"
#include "daemon/history/samples.h"

namespace riserkeep {

inline constexpr std::int64_t kHourMs = 3'600'000;
inline constexpr std::uint64_t kLongTail = 400'000;  // inputs since the newest snapshot

inline std::uint64_t number(Seq s) { return static_cast<std::uint64_t>(s); }
inline std::size_t weight(const OutboxRow& r) { return sizeof r + r.content.size(); }
inline std::size_t weight(const OutboxMark& m) { return sizeof m + m.error.size(); }
inline std::size_t weight(const JournalEvent& e) { return sizeof e + e.json.size() + e.kind.size() + e.point.size(); }

// What the loop hands over and the writer takes, in one piece.
struct Inbox {
  JournalBatch batch;
  std::vector<std::function<void(bool)>> barriers;
  std::optional<StoredSnapshot> snapshot;
};

struct Store::Parts {
  Parts(std::filesystem::path d, const Site& site, std::string sha, std::function<void(BoxHealth)> h, StoreOptions o)
      : dir(std::move(d)), options(std::move(o)), config_sha(std::move(sha)), channels(ChannelList::of(site)),
        health(std::move(h)), samples(dir / "history.db", options.sample_bytes_limit) {}

  // Set once, then only read.
  const std::filesystem::path dir;
  const StoreOptions options;
  const std::string config_sha;
  const ChannelList channels;
  const std::function<void(BoxHealth)> health;

  // Shared, under the mutex.
  std::mutex mutex;
  std::condition_variable wake;
  Inbox inbox;
  bool stopping = false, hurry = false;
  ClockMark newest_mark;
  EngineTime newest_at;

  std::atomic<std::size_t> inputs_waiting{0}, event_bytes_waiting{0};
  std::atomic<std::uint64_t> event_seq{1}, tail_inputs{0};
  std::atomic<bool> gap{false};

  // The writer's own.
  std::unique_ptr<Journal> journal;
  Samples samples;
  Inbox pending;
  std::uint64_t committed = 0, seen_hour = 0;
  std::string journal_trouble, history_trouble;
  bool reported_well = true;
  std::chrono::steady_clock::time_point next_history_try;
  std::vector<std::string> notes;
  std::thread thread;

  void open();
  void rebuild_samples();
  void run();
  void take_inbox();
  void drop_what_does_not_fit();
  bool commit();
  bool commit_or_explain();
  void reopen_journal(bool damaged);
  void flush_samples();
  bool room_for_samples();
  void report();
};

}  // namespace riserkeep
