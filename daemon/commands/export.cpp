#include "daemon/commands/export.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "daemon/formats/input_log.h"
#include "daemon/formats/rfc3339.h"
#include "daemon/formats/telemetry_csv.h"
#include "daemon/history/journal.h"
#include "daemon/history/samples.h"

namespace riserkeep {
namespace {

constexpr std::int64_t kWindowMs = 3'600'000;
constexpr std::int64_t kEventsAtOnce = 500;

class WriteFailed : public std::runtime_error { using runtime_error::runtime_error; };

void put_line(std::FILE* out, const std::string& line) {
  if (std::fwrite(line.data(), 1, line.size(), out) != line.size() || std::fputc('\n', out) == EOF)
    throw WriteFailed{"the output takes no more"};
}

// A database whose writer is away cannot make its shared memory in a directory that is read-only; without a
// log beside it, it is whole by itself.
Database open_to_read(const std::filesystem::path& file) {
  std::error_code code;
  if (!std::filesystem::exists(file, code))
    throw std::runtime_error{fmt::format("{} is not there. Give the state directory of a site that has run, with --state DIR", file.string())};
  return Database{file, Database::Access::read};
}

int guarded(std::FILE* err, const std::function<void()>& work) {
  try {
    work();
    return 0;
  } catch (const std::exception& e) {
    fmt::print(err, "riserkeep: export: {}\n", e.what());
    return 1;
  }
}

std::map<std::int64_t, ChannelList> channel_lists(Database& journal) {
  std::map<std::int64_t, ChannelList> lists;
  Statement s = journal.prepare("SELECT id, channels FROM configs");
  while (s.step()) lists.emplace(s.integer(0), ChannelList::parse(s.bytes(1)));
  return lists;
}

struct Named { const ChannelList::Key* key; Sample sample; };

// All samples on record in the order of engine time: closed hours from history.db, the rest from the tail.
class Telemetry {
 public:
  Telemetry(const std::filesystem::path& dir) : journal_(open_to_read(dir / "journal.db")) {
    // The tail first: what the writer moves on meanwhile is then seen twice, not lost, and left out below.
    clock_ = read_clock(journal_);
    lists_ = channel_lists(journal_);
    std::uint64_t history_has = 0;
    read_tail();
    std::error_code code;
    if (std::filesystem::exists(dir / "history.db", code)) {
      history_.emplace(open_to_read(dir / "history.db"));
      history_has = static_cast<std::uint64_t>(history_->number("SELECT value FROM meta WHERE key = 'inputs_upto'").value_or(0));
      newest_chunk_ = history_->number("SELECT max(id) FROM chunks").value_or(0);
    }
    std::erase_if(tail_, [&](const auto& t) { return t.first <= history_has; });
    std::stable_sort(tail_.begin(), tail_.end(), [](const auto& a, const auto& b) { return a.second.sample.ms < b.second.sample.ms; });
  }

  void write(std::FILE* out) {
    put_line(out, std::string{kTelemetryHeader});
    for (auto from = first_ms(); from; from = next_ms(*from)) write_window(out, *from);
  }
  std::uint64_t without_time() const { return without_time_; }
  std::uint64_t damaged() const { return damaged_; }

 private:
  void read_tail() {
    for_each_input(journal_, 0, [&](std::int64_t config, Stamped&& s) {
      if (const auto k = sample_of(lists_[config], s)) tail_.emplace_back(static_cast<std::uint64_t>(s.seq), Named{k->key, k->sample});
    });
  }

  std::optional<std::int64_t> first_ms() { return later_than(INT64_MIN); }
  std::optional<std::int64_t> next_ms(std::int64_t window) { return later_than(window + kWindowMs - 1); }

  // The start of the first window that holds a sample later than `ms`.
  std::optional<std::int64_t> later_than(std::int64_t ms) {
    std::optional<std::int64_t> least;
    const auto take = [&](std::int64_t at) { if (!least || at < *least) least = at; };
    if (history_) {
      Statement s = history_->prepare("SELECT max(min(first_ms), ?1 + 1) FROM chunks WHERE id <= ?2 AND last_ms > ?1");
      s.bind(1, std::max(ms, INT64_MIN / 2)).bind(2, newest_chunk_);
      if (s.step() && !s.is_null(0)) take(s.integer(0));
    }
    const auto t = std::upper_bound(tail_.begin(), tail_.end(), ms, [](std::int64_t a, const auto& b) { return a < b.second.sample.ms; });
    if (t != tail_.end()) take(t->second.sample.ms);
    if (least) *least -= (*least % kWindowMs + kWindowMs) % kWindowMs;
    return least;
  }

  const ChannelList::Key* key_of(std::int64_t id) {
    const auto [at, fresh] = keys_.try_emplace(id);
    if (fresh) {
      Statement s = history_->prepare("SELECT point, signal, decimals FROM channels WHERE id = ?");
      s.bind(1, id);
      if (s.step()) at->second = {s.bytes(0), s.bytes(1), static_cast<int>(s.integer(2))};
    }
    return &at->second;
  }

  void add_chunks(std::int64_t from, std::vector<Named>& rows) {
    if (!history_) return;
    Statement s = history_->prepare("SELECT channel, bytes FROM chunks WHERE id <= ? AND first_ms < ? AND last_ms >= ? ORDER BY id");
    s.bind(1, newest_chunk_).bind(2, from + kWindowMs).bind(3, from);
    while (s.step()) {
      const auto samples = unpack_chunk(s.bytes(1));
      if (!samples) { ++damaged_; continue; }
      const auto* key = key_of(s.integer(0));
      for (const Sample& x : *samples)
        if (x.ms >= from && x.ms < from + kWindowMs) rows.push_back({key, x});
    }
  }

  void write_window(std::FILE* out, std::int64_t from) {
    std::vector<Named> rows;
    add_chunks(from, rows);
    for (const auto& [seq, named] : tail_)
      if (named.sample.ms >= from && named.sample.ms < from + kWindowMs) rows.push_back(named);
    std::stable_sort(rows.begin(), rows.end(), [](const Named& a, const Named& b) {
      if (a.sample.ms != b.sample.ms) return a.sample.ms < b.sample.ms;
      return std::tie(a.key->point, a.key->signal) < std::tie(b.key->point, b.key->signal);
    });
    for (const Named& n : rows) {
      const auto wall = clock_.wall(EngineTime{Duration{n.sample.ms}});
      if (!wall) { ++without_time_; continue; }
      // The wall clock may have stepped back; rows never do.
      newest_ = std::max(newest_, wall->ms);
      put_line(out, telemetry_row(WallTime{newest_}, n.key->point, n.key->signal, n.key->decimals, n.sample.ticks, n.sample.quality));
    }
  }

  Database journal_;
  std::optional<Database> history_;
  ClockMap clock_;
  std::map<std::int64_t, ChannelList> lists_;
  std::map<std::int64_t, ChannelList::Key> keys_;
  std::vector<std::pair<std::uint64_t, Named>> tail_;
  std::int64_t newest_chunk_ = 0, newest_ = INT64_MIN;
  std::uint64_t without_time_ = 0, damaged_ = 0;
};

std::vector<std::string> names(const std::vector<ChannelList::Key>& keys) {
  std::vector<std::string> out;
  for (const auto& k : keys) out.push_back(fmt::format("{}/{}", k.point, k.signal));
  return out;
}

}  // namespace

int export_telemetry(const std::filesystem::path& dir, std::FILE* out, std::FILE* err) {
  return guarded(err, [&] {
    Telemetry telemetry{dir};
    telemetry.write(out);
    if (std::fflush(out) != 0) throw WriteFailed{"the output takes no more"};
    if (telemetry.without_time() > 0)
      fmt::print(err, "riserkeep: export: {} samples left out: the time of day was never known\n", telemetry.without_time());
    if (telemetry.damaged() > 0) fmt::print(err, "riserkeep: export: {} damaged chunks left out\n", telemetry.damaged());
  });
}

// From the older good snapshot on, for as long as no input is missing.
int export_inputs(const std::filesystem::path& dir, std::FILE* out, std::FILE* err) {
  return guarded(err, [&] {
    Database db = open_to_read(dir / "journal.db");
    db.exec("BEGIN");
    const auto start = newest_snapshot(db, nullptr, true);
    std::uint64_t expected = (start ? start->snapshot.upto : 0) + 1;
    std::optional<std::int64_t> config;
    if (start) config = start->config;
    bool header_written = false, whole = true;
    const auto write_header = [&](std::int64_t id) {
      Statement s = db.prepare("SELECT sha256, channels FROM configs WHERE id = ?");
      s.bind(1, id);
      InputLogHeader h;
      if (s.step()) {
        const auto list = ChannelList::parse(s.bytes(1));
        h.config_sha256 = s.bytes(0);
        h.channels = names(list.channels);
        h.outputs = names(list.outputs);
      }
      if (start) h.snapshot = start->snapshot.bytes;
      Statement e = db.prepare("SELECT max(seq) FROM events WHERE input < ?");
      e.bind(1, static_cast<std::int64_t>(expected));
      if (e.step()) h.first_event_seq = static_cast<std::uint64_t>(e.integer(0)) + 1;
      put_line(out, input_log_line(h));
      header_written = true;
    };
    const bool readable = for_each_input(db, expected - 1, [&](std::int64_t id, Stamped&& s) {
      if (!config) config = id;
      whole = whole && id == *config && static_cast<std::uint64_t>(s.seq) == expected;
      if (!whole) return;
      if (!header_written) write_header(*config);
      ++expected;
      put_line(out, input_log_line(s));
    });
    if (!header_written) write_header(config.value_or(db.number("SELECT max(id) FROM configs").value_or(0)));
    if (std::fflush(out) != 0) throw WriteFailed{"the output takes no more"};
    if (!readable || !whole)
      fmt::print(err, "riserkeep: export: inputs are missing, damaged or of another configuration after number {}; the log ends there\n", expected - 1);
  });
}

int export_events(const std::filesystem::path& dir, std::FILE* out, std::FILE* err) {
  return guarded(err, [&] {
    Database db = open_to_read(dir / "journal.db");
    std::int64_t after = 0;
    for (std::int64_t n = kEventsAtOnce; n == kEventsAtOnce;) {
      Statement s = db.prepare("SELECT seq, json FROM events WHERE seq > ? ORDER BY seq LIMIT ?");
      s.bind(1, after).bind(2, kEventsAtOnce);
      for (n = 0; s.step(); ++n) {
        after = s.integer(0);
        put_line(out, s.bytes(1));
      }
    }
    if (std::fflush(out) != 0) throw WriteFailed{"the output takes no more"};
  });
}

}  // namespace riserkeep
