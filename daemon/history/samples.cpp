#include "daemon/history/samples.h"

#include <fmt/format.h>

#include <charconv>
#include <sstream>

namespace riserkeep {
namespace {

// A vent's read-back is what was commanded; a position switch is a channel of its own.
std::string output_signal(OutputKind k) {
  switch (k) {
    case OutputKind::vent: return "vent_command";
    case OutputKind::sample_port: return "sample_port";
    case OutputKind::supply_valve:
    case OutputKind::box_well: return {};
  }
  return {};
}

std::vector<std::string> fields_of(const std::string& line) {
  std::vector<std::string> out;
  std::istringstream in{line};
  for (std::string field; std::getline(in, field, ',');) out.push_back(field);
  return out;
}

}  // namespace

ChannelList ChannelList::of(const Site& site) {
  ChannelList list;
  for (const auto& c : site.channels)
    list.channels.push_back({std::string{place_id(site, c.place)}, std::string{signal_word(c)}, info_of(c.signal).decimals});
  for (const auto& o : site.outputs)
    list.outputs.push_back({std::string{place_id(site, o.place)}, output_signal(o.kind), 0});
  return list;
}

std::string ChannelList::text() const {
  std::string out;
  for (const auto& k : channels) out += fmt::format("c,{},{},{}\n", k.point, k.signal, k.decimals);
  for (const auto& k : outputs) out += fmt::format("o,{},{},{}\n", k.point, k.signal, k.decimals);
  return out;
}

ChannelList ChannelList::parse(const std::string& text) {
  ChannelList list;
  std::istringstream in{text};
  for (std::string line; std::getline(in, line);) {
    const auto f = fields_of(line);
    if (f.size() != 4) continue;
    int decimals = 0;
    std::from_chars(f[3].data(), f[3].data() + f[3].size(), decimals);
    (f[0] == "c" ? list.channels : list.outputs).push_back({f[1], f[2], std::clamp(decimals, 0, 9)});
  }
  return list;
}

std::optional<KeyedSample> sample_of(const ChannelList& list, const Stamped& s) {
  if (const auto* r = std::get_if<Reading>(&s.input)) {
    if (r->channel.index >= list.channels.size()) return std::nullopt;
    return KeyedSample{&list.channels[r->channel.index],
                       {r->measured.time_since_epoch().count(), r->ticks, r->quality, r->why}};
  }
  const auto* o = std::get_if<OutputObserved>(&s.input);
  if (!o || o->output.index >= list.outputs.size()) return std::nullopt;
  const ChannelList::Key& key = list.outputs[o->output.index];
  if (key.signal.empty()) return std::nullopt;
  Sample sample{s.at.time_since_epoch().count(), std::nullopt, Quality::bad, Why::no_value};
  if (o->state != OutputState::unknown) sample = {sample.ms, o->state == OutputState::open, Quality::good, Why::none};
  return KeyedSample{&key, sample};
}

bool Samples::open(std::vector<std::string>& notes, std::string& trouble) {
  for (int attempt = 0; attempt < 2; ++attempt) {
    try {
      db_ = std::make_unique<Database>(file_, Database::Access::write);
      create();
      return true;
    } catch (const DatabaseError& e) {
      db_.reset();
      trouble = e.what();
      std::error_code code;
      if (!e.damaged() || !std::filesystem::exists(file_, code)) return false;
      try {
        const auto aside = set_aside(file_);
        notes.push_back(fmt::format("{} is damaged ({}); kept as {}, a new one is begun", file_.string(), e.what(), aside.filename().string()));
      } catch (const std::exception& stuck) {
        trouble = stuck.what();
        return false;
      }
    }
  }
  return false;
}

void Samples::create() {
  constexpr std::int64_t kSchema = 1;
  constexpr std::int64_t kCheckUpTo = 16'000;  // pages of 4 KiB: a larger file would hold up the start
  const auto schema = db_->number("PRAGMA user_version").value_or(0);
  if (schema > kSchema) throw DatabaseError{1, file_.string() + " was written by a newer version; install that one, or move the file away"};
  if (schema == 0) {
    Transaction t{*db_};
    db_->exec(
        "CREATE TABLE channels(id INTEGER PRIMARY KEY, point TEXT NOT NULL, signal TEXT NOT NULL, decimals INTEGER NOT NULL,"
        " UNIQUE(point, signal, decimals));"
        "CREATE TABLE chunks(id INTEGER PRIMARY KEY, channel INTEGER NOT NULL, first_ms INTEGER NOT NULL,"
        " last_ms INTEGER NOT NULL, samples INTEGER NOT NULL, bytes BLOB NOT NULL);"
        "CREATE INDEX chunks_by_time ON chunks(first_ms);"
        "CREATE TABLE meta(key TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID;"
        "INSERT INTO meta VALUES('inputs_upto', 0)");
    db_->exec("PRAGMA user_version=1");
    t.commit();
  }
  if (db_->number("PRAGMA page_count").value_or(0) <= kCheckUpTo && !db_->quick_check())
    throw DatabaseError{11 /* SQLITE_CORRUPT */, "a check failed"};
  has_ = static_cast<std::uint64_t>(db_->number("SELECT value FROM meta WHERE key = 'inputs_upto'").value_or(0));
}

std::size_t Samples::slot_of(const ChannelList::Key& key) {
  const auto [at, fresh] = slot_by_key_.try_emplace(fmt::format("{},{},{}", key.point, key.signal, key.decimals), slots_.size());
  if (fresh) slots_.push_back({key, {}});
  return at->second;
}

void Samples::add(const ChannelList::Key& key, const Sample& s) {
  ChunkPacker& packer = slots_[slot_of(key)].packer;
  const std::size_t before = packer.size();
  packer.add(s);
  bytes_ += packer.size() - before;
  if (bytes_ > bytes_limit_) drop_oldest();
}

void Samples::seal() {
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    ChunkPacker& p = slots_[i].packer;
    if (p.empty()) continue;
    const std::int64_t first = p.first_ms(), last = p.last_ms();
    const std::uint32_t count = p.count();
    sealed_.push_back({i, first, last, count, p.take()});
  }
}

void Samples::drop_oldest() {
  if (sealed_.empty()) seal();
  const std::size_t aim = bytes_limit_ - bytes_limit_ / 8;
  while (bytes_ > aim && !sealed_.empty()) {
    bytes_ -= sealed_.front().bytes.size();
    lost_ += sealed_.front().count;
    sealed_.pop_front();
  }
}

void Samples::flush(std::uint64_t upto) {
  if (!db_) throw DatabaseError{14 /* SQLITE_CANTOPEN */, file_.string() + ": not open"};
  seal();
  Transaction t{*db_};
  Statement name = db_->prepare("INSERT OR IGNORE INTO channels(point, signal, decimals) VALUES(?, ?, ?)");
  Statement insert = db_->prepare(
      "INSERT INTO chunks(channel, first_ms, last_ms, samples, bytes)"
      " SELECT id, ?, ?, ?, ? FROM channels WHERE point = ? AND signal = ? AND decimals = ?");
  for (const Sealed& s : sealed_) {
    const auto& key = slots_[s.slot].key;
    name.text(1, key.point).text(2, key.signal).bind(3, std::int64_t{key.decimals}).run();
    insert.bind(1, s.first_ms).bind(2, s.last_ms).bind(3, std::int64_t{s.count}).blob(4, s.bytes)
        .text(5, key.point).text(6, key.signal).bind(7, std::int64_t{key.decimals}).run();
  }
  Statement mark = db_->prepare("UPDATE meta SET value = ? WHERE key = 'inputs_upto'");
  mark.bind(1, static_cast<std::int64_t>(upto)).run();
  t.commit();
  has_ = upto;
  sealed_.clear();
  bytes_ = 0;
}

}  // namespace riserkeep
