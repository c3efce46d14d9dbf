#include "daemon/history/database.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <ctime>

namespace riserkeep {
namespace {

[[noreturn]] void raise(sqlite3* db, std::string_view doing) {
  const int code = db ? sqlite3_extended_errcode(db) : SQLITE_NOMEM;
  throw DatabaseError{code, fmt::format("{}: {}", doing, db ? sqlite3_errmsg(db) : "out of memory")};
}

int count_pages(void* pages, sqlite3*, const char*, int now) {
  *static_cast<int*>(pages) = now;
  return SQLITE_OK;
}

}  // namespace

bool DatabaseError::damaged() const {
  const int code = code_ & 0xFF;
  return code == SQLITE_CORRUPT || code == SQLITE_NOTADB || code == SQLITE_FORMAT;
}

bool DatabaseError::no_room() const {
  const int code = code_ & 0xFF;
  return code == SQLITE_FULL || code == SQLITE_IOERR;
}

void Statement::Finalize::operator()(sqlite3_stmt* s) const { sqlite3_finalize(s); }

Statement::Statement(sqlite3* db, std::string_view sql) {
  sqlite3_stmt* s = nullptr;
  const int code = sqlite3_prepare_v3(db, sql.data(), static_cast<int>(sql.size()), SQLITE_PREPARE_PERSISTENT, &s, nullptr);
  statement_.reset(s);
  if (code != SQLITE_OK) raise(db, "prepare");
}
Statement::~Statement() = default;

Statement& Statement::bind(int at, std::int64_t v) {
  sqlite3_bind_int64(statement_.get(), at, v);
  return *this;
}
Statement& Statement::bind(int at, std::optional<std::int64_t> v) { return v ? bind(at, *v) : null(at); }
Statement& Statement::text(int at, std::string_view v) {
  sqlite3_bind_text64(statement_.get(), at, v.data() ? v.data() : "", v.size(), SQLITE_STATIC, SQLITE_UTF8);
  return *this;
}
Statement& Statement::blob(int at, std::string_view v) {
  sqlite3_bind_blob64(statement_.get(), at, v.data() ? v.data() : "", v.size(), SQLITE_STATIC);
  return *this;
}
Statement& Statement::null(int at) {
  sqlite3_bind_null(statement_.get(), at);
  return *this;
}

bool Statement::step() {
  const int code = sqlite3_step(statement_.get());
  if (code == SQLITE_ROW) return true;
  if (code == SQLITE_DONE) return false;
  sqlite3* db = sqlite3_db_handle(statement_.get());
  const DatabaseError error{sqlite3_extended_errcode(db), fmt::format("{}: {}", sqlite3_sql(statement_.get()), sqlite3_errmsg(db))};
  sqlite3_reset(statement_.get());
  throw error;
}

void Statement::reset() {
  sqlite3_reset(statement_.get());
  sqlite3_clear_bindings(statement_.get());
}

bool Statement::is_null(int column) const { return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL; }
std::int64_t Statement::integer(int column) const { return sqlite3_column_int64(statement_.get(), column); }
std::string Statement::bytes(int column) const {
  const void* data = sqlite3_column_blob(statement_.get(), column);
  const auto n = static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column));
  return data ? std::string{static_cast<const char*>(data), n} : std::string{};
}

void Database::Close::operator()(sqlite3* db) const { sqlite3_close_v2(db); }

Database::Database(const std::filesystem::path& file, Access access) : wal_pages_(std::make_unique<int>(0)) {
  const int flags = SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE |
                    (access == Access::write ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY);
  sqlite3* raw = nullptr;
  const int code = sqlite3_open_v2(file.c_str(), &raw, flags, nullptr);
  db_.reset(raw);
  if (code != SQLITE_OK) raise(raw, file.string());
  sqlite3_busy_timeout(raw, 2000);
  try {
    exec("PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON");
    if (access == Access::read) return;
    exec("PRAGMA auto_vacuum=INCREMENTAL; PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA wal_autocheckpoint=0");
    sqlite3_wal_hook(raw, count_pages, wal_pages_.get());
  } catch (const DatabaseError& e) {
    throw DatabaseError{e.code(), fmt::format("{}: {}", file.string(), e.what())};
  }
}

void Database::exec(const char* sql) {
  if (sqlite3_exec(db_.get(), sql, nullptr, nullptr, nullptr) != SQLITE_OK) raise(db_.get(), sql);
}

std::optional<std::int64_t> Database::number(std::string_view sql) {
  Statement s = prepare(sql);
  if (!s.step() || s.is_null(0)) return std::nullopt;
  return s.integer(0);
}

bool Database::in_transaction() const { return sqlite3_get_autocommit(db_.get()) == 0; }

void Database::rollback() noexcept {
  // SQLITE_FULL and I/O errors may have rolled back already.
  if (in_transaction()) sqlite3_exec(db_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
}

bool Database::quick_check() {
  try {
    Statement s = prepare("PRAGMA quick_check(1)");
    return s.step() && s.bytes(0) == "ok";
  } catch (const DatabaseError& e) {
    if (e.damaged()) return false;
    throw;
  }
}

int Database::wal_pages() const { return *wal_pages_; }

void Database::checkpoint(bool truncate) noexcept {
  sqlite3_busy_timeout(db_.get(), 0);
  const int mode = truncate ? SQLITE_CHECKPOINT_TRUNCATE : SQLITE_CHECKPOINT_PASSIVE;
  if (sqlite3_wal_checkpoint_v2(db_.get(), nullptr, mode, nullptr, nullptr) == SQLITE_OK) *wal_pages_ = 0;
  sqlite3_busy_timeout(db_.get(), 2000);
}

std::filesystem::path set_aside(const std::filesystem::path& file) {
  namespace fs = std::filesystem;
  fs::path to;
  const auto stamp = static_cast<std::int64_t>(std::time(nullptr));
  for (std::int64_t n = stamp;; ++n) {
    to = file;
    to += fmt::format(".damaged-{}", n);
    if (!fs::exists(to)) break;
  }
  fs::rename(file, to);
  for (const char* side : {"-wal", "-shm"}) {
    std::error_code ignored;
    fs::rename(fs::path{file} += side, fs::path{to} += side, ignored);
  }
  return to;
}

}  // namespace riserkeep
