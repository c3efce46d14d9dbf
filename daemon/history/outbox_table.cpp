#include "daemon/history/outbox_table.h"

namespace riserkeep {
namespace {

constexpr Duration kRemember = std::chrono::days(90);

std::int64_t signed_of(std::uint64_t v) { return static_cast<std::int64_t>(v); }
std::int64_t ms_of(EngineTime t) { return t.time_since_epoch().count(); }

std::string_view end_word(OutboxEnd e) {
  return e == OutboxEnd::delivered ? "delivered" : e == OutboxEnd::given_up ? "given up" : "dropped";
}

}  // namespace

void create_outbox(Database& db) {
  db.exec(
      "CREATE TABLE outbox(id INTEGER PRIMARY KEY, notice INTEGER NOT NULL, person TEXT NOT NULL, decided_ms INTEGER NOT NULL,"
      " wall_ms INTEGER, content TEXT NOT NULL, started INTEGER NOT NULL, failures INTEGER NOT NULL, error TEXT NOT NULL,"
      " way TEXT NOT NULL, ended TEXT, ended_ms INTEGER, UNIQUE(notice, person));"
      "CREATE TABLE spent_tokens(sha256 TEXT PRIMARY KEY, until_ms INTEGER NOT NULL);");
}

void insert_outbox(Database& db, const std::vector<OutboxRow>& rows) {
  if (rows.empty()) return;
  // A number met again belongs to a record that was lost: the newer message counts.
  Statement insert = db.prepare(
      "INSERT OR REPLACE INTO outbox(notice, person, decided_ms, wall_ms, content, started, failures, error, way)"
      " VALUES(?, ?, ?, ?, ?, ?, ?, ?, '')");
  for (const auto& r : rows)
    insert.bind(1, signed_of(r.notice)).text(2, r.person).bind(3, ms_of(r.decided))
        .bind(4, r.wall ? std::optional{r.wall->ms} : std::nullopt).text(5, r.content)
        .bind(6, std::int64_t{r.started}).bind(7, std::int64_t{r.failures}).text(8, r.error).run();
}

void mark_outbox(Database& db, const std::vector<OutboxMark>& marks) {
  if (marks.empty()) return;
  Statement update = db.prepare(
      "UPDATE outbox SET started = ?, failures = ?, error = ?, way = ?, ended = ?, ended_ms = ? WHERE notice = ? AND person = ?");
  bool ended = false;
  for (const auto& m : marks) {
    update.bind(1, std::int64_t{m.started}).bind(2, std::int64_t{m.failures}).text(3, m.error).text(4, m.way);
    if (m.end) update.text(5, end_word(*m.end)).bind(6, ms_of(m.at));
    else update.null(5).null(6);
    update.bind(7, signed_of(m.notice)).text(8, m.person).run();
    ended = ended || m.end;
  }
  if (!ended) return;
  Statement prune = db.prepare("DELETE FROM outbox WHERE ended IS NOT NULL AND ended_ms < ?");
  prune.bind(1, ms_of(marks.back().at - kRemember)).run();
}

void insert_spent(Database& db, const std::vector<SpentToken>& tokens) {
  if (tokens.empty()) return;
  Statement insert = db.prepare("INSERT OR IGNORE INTO spent_tokens(sha256, until_ms) VALUES(?, ?)");
  for (const auto& t : tokens) insert.text(1, t.sha256).bind(2, t.until_wall_ms).run();
}

OutboxFound read_outbox(Database& db) {
  OutboxFound found;
  Statement rows = db.prepare(
      "SELECT notice, person, decided_ms, wall_ms, content, started, failures, error FROM outbox WHERE ended IS NULL ORDER BY id");
  while (rows.step()) {
    OutboxRow r;
    r.notice = static_cast<std::uint64_t>(rows.integer(0));
    r.person = rows.bytes(1);
    r.decided = EngineTime{Duration{rows.integer(2)}};
    if (!rows.is_null(3)) r.wall = WallTime{rows.integer(3)};
    r.content = rows.bytes(4);
    r.started = rows.integer(5) != 0;
    r.failures = static_cast<int>(rows.integer(6));
    r.error = rows.bytes(7);
    found.waiting.push_back(std::move(r));
  }
  Statement lost = db.prepare(
      "SELECT person FROM outbox o WHERE ended = 'given up' AND NOT EXISTS"
      " (SELECT 1 FROM outbox n WHERE n.person = o.person AND n.ended = 'delivered' AND n.ended_ms >= o.ended_ms) GROUP BY person");
  while (lost.step()) found.lost.push_back(lost.bytes(0));
  Statement spent = db.prepare("SELECT sha256, until_ms FROM spent_tokens");
  while (spent.step()) found.spent.push_back({spent.bytes(0), spent.integer(1)});
  return found;
}

}  // namespace riserkeep
