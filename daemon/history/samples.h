// history.db: every channel's samples in packed chunks of an hour. Expendable: without it, or without room for
// it, samples stay in memory within a bound. Used by one thread at a time. docs/formats/journal.md.
#pragma once

#include <cstdint>
#include <deque>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "daemon/history/chunks.h"
#include "daemon/history/database.h"
#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

// What the indices of one configuration's inputs mean in the history: kept with the configuration, so that
// inputs on record stay readable after a change of it.
struct ChannelList {
  struct Key {
    std::string point, signal;         // as in the telemetry CSV
    int decimals = 0;
    bool operator==(const Key&) const = default;
  };
  std::vector<Key> channels, outputs;  // an output without a CSV signal has an empty one

  static ChannelList of(const Site&);
  static ChannelList parse(const std::string& text);
  std::string text() const;            // one line each: "c,loading-dock,pressure,3"
};

// The sample that an input carries, if any, and whose it is.
struct KeyedSample { const ChannelList::Key* key; Sample sample; };
std::optional<KeyedSample> sample_of(const ChannelList&, const Stamped&);

class Samples {
 public:
  Samples(std::filesystem::path file, std::size_t bytes_limit) : file_(std::move(file)), bytes_limit_(bytes_limit) {}

  // Opens or creates; a damaged file is set aside. False: it cannot be had now (`trouble` says why).
  bool open(std::vector<std::string>& notes, std::string& trouble);
  void add(const ChannelList::Key&, const Sample&);
  // Writes all that was added; the chunks hold inputs up to `upto`. Throws DatabaseError; nothing is lost then.
  void flush(std::uint64_t upto);
  std::uint64_t has() const { return has_; }           // inputs up to this one are in the file
  bool is_open() const { return db_ != nullptr; }
  std::size_t bytes_in_memory() const { return bytes_; }
  std::uint64_t lost() const { return lost_; }         // samples dropped because memory was at its bound
  void checkpoint() { if (db_) db_->checkpoint(true); }
  void close() { db_.reset(); }

 private:
  struct Slot { ChannelList::Key key; ChunkPacker packer; };
  struct Sealed { std::size_t slot; std::int64_t first_ms, last_ms; std::uint32_t count; std::string bytes; };

  std::size_t slot_of(const ChannelList::Key&);
  void seal();
  void drop_oldest();
  void create();

  std::filesystem::path file_;
  std::size_t bytes_limit_, bytes_ = 0;
  std::unique_ptr<Database> db_;
  std::vector<Slot> slots_;
  std::unordered_map<std::string, std::size_t> slot_by_key_;
  std::deque<Sealed> sealed_;
  std::uint64_t has_ = 0, lost_ = 0;
};

}  // namespace riserkeep
