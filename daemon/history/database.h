// SQLite with RAII: statements are reset, transactions end, errors are exceptions with where and what.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace riserkeep {

class DatabaseError : public std::runtime_error {
 public:
  DatabaseError(int code, const std::string& what) : std::runtime_error(what), code_(code) {}
  int code() const { return code_; }                 // extended result code
  bool damaged() const;                              // corrupt or no database at all
  bool no_room() const;                              // full, or the device does not take it
 private:
  int code_;
};

class Statement {
 public:
  Statement(sqlite3* db, std::string_view sql);
  Statement(Statement&&) noexcept = default;
  ~Statement();

  Statement& bind(int at, std::int64_t);
  Statement& bind(int at, std::optional<std::int64_t>);
  Statement& text(int at, std::string_view);         // the bytes must live until reset
  Statement& blob(int at, std::string_view);
  Statement& null(int at);
  bool step();                                       // true: a row is there
  void run() { while (step()) {} reset(); }
  void reset();

  bool is_null(int column) const;
  std::int64_t integer(int column) const;
  std::string bytes(int column) const;               // text or blob

 private:
  struct Finalize { void operator()(sqlite3_stmt*) const; };
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
};

class Database {
 public:
  enum class Access { write, read };

  // Throws DatabaseError. `write` creates the file: write-ahead log, full synchronisation, checkpoints ours.
  Database(const std::filesystem::path& file, Access);
  Database(Database&&) noexcept = default;
  Database& operator=(Database&&) noexcept = default;

  void exec(const char* sql);
  Statement prepare(std::string_view sql) { return Statement{db_.get(), sql}; }
  std::optional<std::int64_t> number(std::string_view sql);   // first column of the first row
  bool in_transaction() const;
  void rollback() noexcept;
  bool quick_check();                                // false: damaged
  int wal_pages() const;                             // since the last checkpoint that emptied it
  void checkpoint(bool truncate) noexcept;           // best effort: never waits for readers
  sqlite3* raw() const { return db_.get(); }

 private:
  struct Close { void operator()(sqlite3*) const; };
  std::unique_ptr<sqlite3, Close> db_;
  std::unique_ptr<int> wal_pages_;
};

// All or nothing: rolled back unless committed.
class Transaction {
 public:
  explicit Transaction(Database& db) : db_(db) { db_.exec("BEGIN IMMEDIATE"); }
  ~Transaction() { if (!done_) db_.rollback(); }
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit() { db_.exec("COMMIT"); done_ = true; }

 private:
  Database& db_;
  bool done_ = false;
};

// Moves a damaged database and its side files out of the way; gives the new name.
std::filesystem::path set_aside(const std::filesystem::path& file);

}  // namespace riserkeep
