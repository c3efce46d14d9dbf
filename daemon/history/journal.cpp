#include "daemon/history/journal.h"

#include <fmt/format.h>

#include <boost/crc.hpp>

#include "daemon/formats/input_log.h"
#include "daemon/formats/sha256.h"
#include "daemon/history/outbox_table.h"

namespace riserkeep {
namespace {

constexpr int kSchema = 2;             // 2: the outbox and its spent tokens
constexpr std::size_t kHashBytes = 32;
constexpr std::size_t kInputsInRow = 2000;      // a long stall becomes several rows
constexpr std::size_t kMostEventsBack = 100'000;

std::int64_t signed_of(std::uint64_t v) { return static_cast<std::int64_t>(v); }
std::uint64_t unsigned_of(std::int64_t v) { return static_cast<std::uint64_t>(v); }
std::int64_t ms_of(EngineTime t) { return t.time_since_epoch().count(); }
EngineTime time_of(std::int64_t ms) { return EngineTime{Duration{ms}}; }

std::int64_t crc_of(std::string_view bytes) {
  boost::crc_32_type crc;
  crc.process_bytes(bytes.data(), bytes.size());
  return crc.checksum();
}

void hash_field(std::string& row, std::string_view field) { row += fmt::format("{}:{};", field.size(), field); }

JournalEvent event_of(const Statement& s) {
  JournalEvent e;
  e.seq = unsigned_of(s.integer(0));
  e.at = time_of(s.integer(2));
  if (!s.is_null(3)) e.wall = WallTime{s.integer(3)};
  e.kind = s.bytes(4);
  e.point = s.bytes(5);
  e.json = s.bytes(6);
  return e;
}

constexpr std::string_view kEventColumns = "SELECT seq, input, at_ms, wall_ms, kind, point, json, hash FROM events ";

}  // namespace

std::string event_hash(std::string_view before, std::uint64_t input, const JournalEvent& e) {
  std::string row{before};
  row += fmt::format("{};{};{};{};", e.seq, input, ms_of(e.at), e.wall ? fmt::format("{}", e.wall->ms) : "");
  hash_field(row, e.kind);
  hash_field(row, e.point);
  hash_field(row, e.json);
  return sha256(row);
}

Journal::Journal(const std::filesystem::path& file) : db_(file, Database::Access::write) {
  if (!db_.quick_check()) throw DatabaseError{11 /* SQLITE_CORRUPT */, file.string() + ": damaged"};
  create();
}

void Journal::create() {
  const auto schema = db_.number("PRAGMA user_version").value_or(0);
  if (schema > kSchema) throw DatabaseError{1, "journal.db was written by a newer version; install that one, or move the file away"};
  if (schema < kSchema) {
    Transaction t{db_};
    if (schema == 0) create_first();
    create_outbox(db_);
    db_.exec("PRAGMA user_version=2");
    t.commit();
  }
  Statement last = db_.prepare("SELECT hash FROM events ORDER BY seq DESC LIMIT 1");
  last_hash_ = last.step() ? last.bytes(0) : std::string(kHashBytes, '\0');
}

void Journal::create_first() {
  db_.exec(
      "CREATE TABLE configs(id INTEGER PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE, channels TEXT NOT NULL, text TEXT NOT NULL);"
      "CREATE TABLE tail(first_seq INTEGER PRIMARY KEY, last_seq INTEGER NOT NULL, config INTEGER NOT NULL,"
      " crc INTEGER NOT NULL, frames BLOB NOT NULL);"
      "CREATE TABLE snapshots(upto INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, config INTEGER NOT NULL,"
      " sha256 BLOB NOT NULL, bytes BLOB NOT NULL);"
      "CREATE TABLE events(seq INTEGER PRIMARY KEY, input INTEGER NOT NULL, at_ms INTEGER NOT NULL, wall_ms INTEGER,"
      " kind TEXT NOT NULL, point TEXT NOT NULL, json TEXT NOT NULL, hash BLOB NOT NULL);"
      "CREATE TABLE clock(id INTEGER PRIMARY KEY, engine_ms INTEGER NOT NULL, boot_id TEXT NOT NULL,"
      " engine_minus_boot_ms INTEGER NOT NULL, wall_minus_engine_ms INTEGER, synchronised INTEGER NOT NULL);"
      "CREATE TABLE anchors(seq INTEGER PRIMARY KEY, events INTEGER NOT NULL, hash BLOB NOT NULL, why TEXT NOT NULL);");
}

void Journal::use_config(const std::string& sha, const std::string& channels, const std::string& text) {
  Transaction t{db_};
  Statement insert = db_.prepare("INSERT OR IGNORE INTO configs(sha256, channels, text) VALUES(?, ?, ?)");
  insert.text(1, sha).text(2, channels).text(3, text).run();
  Statement find = db_.prepare("SELECT id FROM configs WHERE sha256 = ?");
  find.text(1, sha);
  if (find.step()) config_ = find.integer(0);
  find.reset();
  t.commit();
}

void Journal::commit(const JournalBatch& batch) {
  const std::string hash_before = last_hash_;
  try {
    Transaction t{db_};
    insert_inputs(batch.inputs);
    insert_events(batch.events);
    insert_marks(batch.marks);
    insert_outbox(db_, batch.messages);
    mark_outbox(db_, batch.message_marks);
    insert_spent(db_, batch.spent);
    t.commit();
  } catch (...) {
    last_hash_ = hash_before;
    throw;
  }
}

void Journal::insert_inputs(const std::vector<Stamped>& inputs) {
  Statement insert = db_.prepare("INSERT INTO tail(first_seq, last_seq, config, crc, frames) VALUES(?, ?, ?, ?, ?)");
  StampedPacker packer;
  for (std::size_t from = 0; from < inputs.size(); from += kInputsInRow) {
    const std::size_t to = std::min(inputs.size(), from + kInputsInRow);
    for (std::size_t i = from; i < to; ++i) packer.add(inputs[i]);
    const std::string frames = packer.take();
    insert.bind(1, signed_of(static_cast<std::uint64_t>(inputs[from].seq)))
        .bind(2, signed_of(static_cast<std::uint64_t>(inputs[to - 1].seq))).bind(3, config_)
        .bind(4, crc_of(frames)).blob(5, frames).run();
  }
}

void Journal::insert_events(const std::vector<JournalBatch::Event>& events) {
  if (events.empty()) return;
  Statement insert = db_.prepare(
      "INSERT INTO events(seq, input, at_ms, wall_ms, kind, point, json, hash) VALUES(?, ?, ?, ?, ?, ?, ?, ?)");
  for (const auto& [input, e] : events) {
    last_hash_ = event_hash(last_hash_, input, e);
    insert.bind(1, signed_of(e.seq)).bind(2, signed_of(input)).bind(3, ms_of(e.at))
        .bind(4, e.wall ? std::optional{e.wall->ms} : std::nullopt)
        .text(5, e.kind).text(6, e.point).text(7, e.json).blob(8, last_hash_).run();
  }
}

void Journal::insert_marks(const std::vector<ClockMark>& marks) {
  if (marks.empty()) return;
  Statement insert = db_.prepare(
      "INSERT INTO clock(engine_ms, boot_id, engine_minus_boot_ms, wall_minus_engine_ms, synchronised) VALUES(?, ?, ?, ?, ?)");
  for (const auto& m : marks)
    insert.bind(1, ms_of(m.engine)).text(2, m.boot_id).bind(3, m.engine_minus_boot_ms)
        .bind(4, m.wall_minus_engine_ms).bind(5, std::int64_t{m.synchronised}).run();
}

void Journal::snapshot(const StoredSnapshot& s, std::uint64_t history_has) {
  Transaction t{db_};
  const std::string sum = sha256(s.bytes);
  Statement insert = db_.prepare("INSERT OR REPLACE INTO snapshots(upto, at_ms, config, sha256, bytes) VALUES(?, ?, ?, ?, ?)");
  insert.bind(1, signed_of(s.upto)).bind(2, ms_of(s.at)).bind(3, config_).blob(4, sum).blob(5, s.bytes).run();
  db_.exec("DELETE FROM snapshots WHERE upto NOT IN (SELECT upto FROM snapshots ORDER BY upto DESC LIMIT 2)");
  const auto count = db_.number("SELECT count(*) FROM snapshots").value_or(0);
  const auto older = db_.number("SELECT min(upto) FROM snapshots").value_or(0);
  if (count == 2) {
    Statement prune = db_.prepare("DELETE FROM tail WHERE last_seq <= ?");
    prune.bind(1, std::min(older, signed_of(std::min<std::uint64_t>(history_has, INT64_MAX)))).run();
  }
  t.commit();
}

std::optional<FoundSnapshot> newest_snapshot(Database& db, int* skipped, bool oldest) {
  Statement s = db.prepare(oldest ? "SELECT upto, at_ms, config, sha256, bytes FROM snapshots ORDER BY upto"
                                  : "SELECT upto, at_ms, config, sha256, bytes FROM snapshots ORDER BY upto DESC");
  while (s.step()) {
    FoundSnapshot found{{unsigned_of(s.integer(0)), time_of(s.integer(1)), s.bytes(4)}, s.integer(2)};
    if (sha256(found.snapshot.bytes) == s.bytes(3)) return found;
    if (skipped) ++*skipped;
  }
  return std::nullopt;
}

bool for_each_input(Database& db, std::uint64_t after, const std::function<void(std::int64_t, Stamped&&)>& take) {
  Statement s = db.prepare("SELECT config, crc, frames FROM tail WHERE last_seq > ? ORDER BY first_seq");
  s.bind(1, signed_of(after));
  while (s.step()) {
    const std::string frames = s.bytes(2);
    auto inputs = crc_of(frames) == s.integer(1) ? unpack_stamped(frames) : std::nullopt;
    if (!inputs) return false;
    for (auto& input : *inputs)
      if (static_cast<std::uint64_t>(input.seq) > after) take(s.integer(0), std::move(input));
  }
  return true;
}

ClockMap read_clock(Database& db) {
  ClockMap map;
  Statement s = db.prepare("SELECT engine_ms, boot_id, engine_minus_boot_ms, wall_minus_engine_ms, synchronised FROM clock ORDER BY id");
  while (s.step())
    map.add({time_of(s.integer(0)), s.bytes(1), s.integer(2),
             s.is_null(3) ? std::nullopt : std::optional{s.integer(3)}, s.integer(4) != 0});
  return map;
}

void Journal::restore_tail(Restored& r) {
  std::uint64_t expected = static_cast<std::uint64_t>(r.snapshot_upto) + 1;
  const bool whole = for_each_input(db_, static_cast<std::uint64_t>(r.snapshot_upto), [&](std::int64_t config, Stamped&& s) {
    r.same_config = r.same_config && config == config_;
    r.last_at = s.at;
    r.next_input = std::max(r.next_input, Seq{static_cast<std::uint64_t>(s.seq) + 1});
    r.hole = r.hole || static_cast<std::uint64_t>(s.seq) != expected;
    if (r.hole || !r.same_config) return;
    ++expected;
    r.tail.push_back(std::move(s));
  });
  if (!whole) {
    r.hole = true;
    r.notes.push_back("journal.db: inputs on record are damaged; what came after them is not replayed");
    r.next_input = std::max(r.next_input, Seq{unsigned_of(db_.number("SELECT max(last_seq) FROM tail").value_or(0)) + 1});
  }
  if (!r.same_config) r.tail.clear();
}

void Journal::restore_events(Restored& r) {
  const std::uint64_t upto = static_cast<std::uint64_t>(r.snapshot_upto);
  const std::uint64_t last = r.tail.empty() ? upto : static_cast<std::uint64_t>(r.tail.back().seq);
  r.next_event_seq = unsigned_of(db_.number("SELECT max(seq) FROM events").value_or(0)) + 1;
  r.next_input = std::max(r.next_input, Seq{unsigned_of(db_.number("SELECT max(input) FROM events").value_or(0)) + 1});
  Statement first = db_.prepare("SELECT max(seq) FROM events WHERE input <= ?");
  first.bind(1, signed_of(upto));
  r.first_event_seq = first.step() ? unsigned_of(first.integer(0)) + 1 : 1;
  first.reset();
  if (!r.same_config) return;
  Statement s = db_.prepare(std::string{kEventColumns} + "WHERE seq >= ? ORDER BY seq");
  s.bind(1, signed_of(r.first_event_seq));
  while (s.step() && r.events.size() < kMostEventsBack) {
    if (unsigned_of(s.integer(1)) > last) { r.hole = true; break; }
    r.events.push_back(event_of(s));
  }
}

Restored Journal::restore() {
  Restored r;
  r.outbox = read_outbox(db_);
  int skipped = 0;
  const auto found = newest_snapshot(db_, &skipped);
  if (skipped > 0) r.notes.push_back(fmt::format("journal.db: {} damaged snapshot{} skipped", skipped, skipped > 1 ? "s" : ""));
  if (found) {
    r.snapshot = found->snapshot.bytes;
    r.snapshot_upto = Seq{found->snapshot.upto};
    r.next_input = Seq{found->snapshot.upto + 1};
    r.last_at = found->snapshot.at;
    r.same_config = found->config == config_;
  }
  restore_tail(r);
  restore_events(r);
  Statement s = db_.prepare("SELECT engine_ms, boot_id, engine_minus_boot_ms, wall_minus_engine_ms, synchronised FROM clock ORDER BY id DESC LIMIT 1");
  if (s.step())
    r.clock = ClockMark{time_of(s.integer(0)), s.bytes(1), s.integer(2),
                        s.is_null(3) ? std::nullopt : std::optional{s.integer(3)}, s.integer(4) != 0};
  return r;
}

ChainResult verify_chain(Database& db) {
  ChainResult result;
  std::string hash(kHashBytes, '\0');
  Statement s = db.prepare(std::string{kEventColumns} + "ORDER BY seq");
  while (s.step()) {
    const JournalEvent e = event_of(s);
    ++result.events;
    hash = event_hash(hash, unsigned_of(s.integer(1)), e);
    if (hash != s.bytes(7)) { result.first_bad = e.seq; return result; }
  }
  return result;
}

std::unique_ptr<Journal> open_journal(const std::filesystem::path& dir, std::vector<std::string>& notes) {
  const auto file = dir / "journal.db";
  try {
    return std::make_unique<Journal>(file);
  } catch (const DatabaseError& e) {
    if (!e.damaged()) throw;
    const auto aside = set_aside(file);
    notes.push_back(fmt::format("{} is damaged ({}); kept as {}, a new one is begun", file.string(), e.what(), aside.filename().string()));
  }
  return std::make_unique<Journal>(file);
}

}  // namespace riserkeep
