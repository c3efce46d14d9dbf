// The writer's side of Store.
#include <fmt/format.h>
#include <sys/statvfs.h>

#include <algorithm>
#include <utility>

#include "daemon/history/state_dir.h"
#include "daemon/history/store_parts.h"

namespace riserkeep {
namespace {

constexpr int kCheckpointPages = 1000;
constexpr auto kRetryHistory = std::chrono::minutes(1);

}  // namespace

void Store::Parts::open() {
  make_writable(dir);
  try {
    journal = open_journal(dir, notes);
    journal->use_config(config_sha, channels.text(), options.config_text);
  } catch (const DatabaseError& e) {
    journal.reset();
    if (!e.no_room())
      throw std::runtime_error{fmt::format("{}: cannot be opened ({}). Check that the directory and its files belong to "
                                           "the user of the service, and that nothing else writes them", (dir / "journal.db").string(), e.what())};
    journal_trouble = e.what();
    notes.push_back(fmt::format("{}: {}; nothing is restored, the record stays in memory until there is room", (dir / "journal.db").string(), e.what()));
  }
  if (!samples.open(notes, history_trouble)) notes.push_back(fmt::format("{}: {}", (dir / "history.db").string(), history_trouble));
}

void Store::Parts::rebuild_samples() {
  if (!journal) return;
  std::unordered_map<std::int64_t, ChannelList> lists;
  Statement find = journal->database().prepare("SELECT id, channels FROM configs");
  while (find.step()) lists.emplace(find.integer(0), ChannelList::parse(find.bytes(1)));
  find.reset();
  for_each_input(journal->database(), samples.has(), [&](std::int64_t config, Stamped&& s) {
    committed = std::max(committed, number(s.seq));
    if (const auto k = sample_of(lists[config], s)) samples.add(*k->key, k->sample);
  });
}

void Store::Parts::report() {
  const bool well = journal_trouble.empty() && history_trouble.empty();
  if (well == reported_well) return;
  reported_well = well;
  if (health) health({BoxPart::history, well, journal_trouble.empty() ? history_trouble : journal_trouble});
}

void Store::Parts::run() {
  auto due = std::chrono::steady_clock::now() + options.commit_every;
  for (;;) {
    bool last = false;
    {
      std::unique_lock lock{mutex};
      wake.wait_until(lock, due, [this] { return stopping || hurry; });
      last = stopping;
      hurry = false;
      take_inbox();
    }
    due = std::chrono::steady_clock::now() + options.commit_every;
    const bool durable = commit_or_explain();
    for (auto& done : pending.barriers) done(durable);
    pending.barriers.clear();
    if (durable) flush_samples();
    report();
    if (last) return;
  }
}

// Under the mutex: moves only, so that the loop never waits for the disk.
void Store::Parts::take_inbox() {
  const auto move_all = [](auto& from, auto& to) {
    to.insert(to.end(), std::make_move_iterator(from.begin()), std::make_move_iterator(from.end()));
    from.clear();
  };
  move_all(inbox.batch.events, pending.batch.events);
  move_all(inbox.batch.marks, pending.batch.marks);
  move_all(inbox.batch.messages, pending.batch.messages);
  move_all(inbox.batch.message_marks, pending.batch.message_marks);
  move_all(inbox.batch.spent, pending.batch.spent);
  move_all(inbox.barriers, pending.barriers);
  if (inbox.snapshot) pending.snapshot = std::exchange(inbox.snapshot, std::nullopt);
  for (Stamped& s : inbox.batch.inputs) {
    if (const auto k = sample_of(channels, s)) samples.add(*k->key, k->sample);
    pending.batch.inputs.push_back(std::move(s));
  }
  inbox.batch.inputs.clear();
}

bool Store::Parts::commit_or_explain() {
  try {
    return commit();
  } catch (const DatabaseError& e) {
    journal_trouble = fmt::format("journal.db: {}", e.what());
    if (e.damaged()) reopen_journal(true);
  } catch (const std::exception& e) {
    journal_trouble = fmt::format("journal.db: {}", e.what());
  }
  drop_what_does_not_fit();
  return false;
}

bool Store::Parts::commit() {
  if (!journal) reopen_journal(false);
  if (!journal) return false;
  if (!pending.batch.empty()) {
    journal->commit(pending.batch);
    if (!pending.batch.inputs.empty()) committed = number(pending.batch.inputs.back().seq);
    inputs_waiting -= pending.batch.inputs.size();
    tail_inputs += pending.batch.inputs.size();
    for (const auto& e : pending.batch.events) event_bytes_waiting -= weight(e.event);
    for (const auto& m : pending.batch.messages) event_bytes_waiting -= weight(m);
    for (const auto& m : pending.batch.message_marks) event_bytes_waiting -= weight(m);
    pending.batch = {};
  }
  if (pending.snapshot) {
    // A history that cannot be written must not make the tail grow for ever.
    const bool far_behind = committed > samples.has() + 4 * kLongTail;
    journal->snapshot(*pending.snapshot, far_behind ? UINT64_MAX : samples.has());
    pending.snapshot.reset();
    tail_inputs = 0;
  }
  journal_trouble.clear();
  if (journal->database().wal_pages() >= kCheckpointPages) journal->database().checkpoint(false);
  return true;
}

// A waiting snapshot stands for the inputs before it; beyond the bound the newest inputs give way, which
// leaves a gap in the numbers that nothing is replayed across.
void Store::Parts::drop_what_does_not_fit() {
  auto& inputs = pending.batch.inputs;
  if (pending.snapshot && !inputs.empty() && number(inputs.front().seq) <= pending.snapshot->upto) {
    const auto keep = std::find_if(inputs.begin(), inputs.end(), [this](const Stamped& s) { return number(s.seq) > pending.snapshot->upto; });
    inputs_waiting -= static_cast<std::size_t>(keep - inputs.begin());
    inputs.erase(inputs.begin(), keep);
  }
}

// After damage, or when there was no room at the start. Numbers that were handed out meanwhile must not meet
// those on record: then a new file is begun beside the old one.
void Store::Parts::reopen_journal(bool damaged) {
  const auto file = dir / "journal.db";
  bool fresh = false;
  const auto begin_anew = [&] {
    journal.reset();
    std::error_code code;
    if (std::filesystem::exists(file, code)) set_aside(file);
    fresh = true;
    journal = open_journal(dir, notes);
  };
  try {
    if (damaged) begin_anew();
    else journal = open_journal(dir, notes);
    const auto& inputs = pending.batch.inputs;
    if (!fresh && !inputs.empty() && journal->restore().next_input > inputs.front().seq) begin_anew();
    journal->use_config(config_sha, channels.text(), options.config_text);
    gap = true;
  } catch (const std::exception& e) {
    journal.reset();
    journal_trouble = fmt::format("journal.db: {}", e.what());
    std::error_code code;
    if (fresh) std::filesystem::remove(file, code);
  }
}

bool Store::Parts::room_for_samples() {
  struct statvfs v{};
  if (statvfs(dir.c_str(), &v) != 0) return true;
  const std::uint64_t free = std::uint64_t{v.f_bavail} * v.f_frsize;
  if (free >= options.reserve_bytes) return true;
  history_trouble = fmt::format("{}: only {} KiB free; samples stay in memory", dir.string(), free / 1024);
  return false;
}

// Once in an hour of engine time, and again each minute after a failure.
void Store::Parts::flush_samples() {
  EngineTime at;
  {
    const std::lock_guard lock{mutex};
    at = newest_at;
  }
  const auto hour = static_cast<std::uint64_t>(at.time_since_epoch().count() / kHourMs);
  if (hour == seen_hour) return;
  if (seen_hour == 0) { seen_hour = hour; return; }
  const auto now = std::chrono::steady_clock::now();
  if (now < next_history_try) return;
  next_history_try = now + kRetryHistory;
  try {
    if (!samples.is_open() && !samples.open(notes, history_trouble)) return;
    if (!room_for_samples()) return;
    samples.flush(committed);
    samples.checkpoint();
    if (journal) journal->database().checkpoint(true);
    history_trouble.clear();
    seen_hour = hour;
    next_history_try = {};
  } catch (const DatabaseError& e) {
    history_trouble = fmt::format("history.db: {}", e.what());
    if (e.damaged()) samples.close();  // the next try sets it aside
  }
}

}  // namespace riserkeep
