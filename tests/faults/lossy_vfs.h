// SQLite files as on a card that loses power: what was written is durable only once it was synced. Also a card
// that is full. It is the default of the process while it lives; the real files lie underneath.
#pragma once

#include <sqlite3.h>

#include <cstring>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <mutex>
#include <new>
#include <random>
#include <string>
#include <utility>
#include <vector>

namespace riserkeep::testing {

class LossyVfs {
 public:
  LossyVfs() {
    self() = this;
    vfs_ = *real_;
    vfs_.zName = "lossy";
    vfs_.szOsFile = static_cast<int>(sizeof(File)) + real_->szOsFile;
    vfs_.xOpen = open;
    vfs_.xDelete = remove;
    sqlite3_vfs_register(&vfs_, 1);
  }
  ~LossyVfs() {
    sqlite3_vfs_unregister(&vfs_);
    sqlite3_vfs_register(real_, 1);
    self() = nullptr;
  }
  LossyVfs(const LossyVfs&) = delete;
  LossyVfs& operator=(const LossyVfs&) = delete;

  // The bytes of every file as a restart may find them: what was synced, and of the writes since then each one
  // by the toss of a coin.
  using Image = std::map<std::string, std::string>;
  Image image(std::mt19937_64& random) const {
    const std::lock_guard lock{mutex_};
    Image out;
    for (const auto& [name, content] : files_) {
      std::string bytes = content.synced;
      for (const Change& c : content.since)
        if (random() % 2 == 0) c.apply(bytes);
      out.emplace(name, std::move(bytes));
    }
    return out;
  }
  static void put(const Image& image, const std::filesystem::path& dir) {
    for (const auto& [name, bytes] : image) std::ofstream{dir / name, std::ios::binary} << bytes;
  }

  void set_full(bool full) { const std::lock_guard lock{mutex_}; full_ = full; }
  void on_sync(std::function<void()> f) { const std::lock_guard lock{mutex_}; on_sync_ = std::move(f); }

 private:
  struct Change {
    std::size_t at;
    std::string bytes;
    bool cut;  // truncation to `at`
    void apply(std::string& to) const {
      if (cut || to.size() < at + bytes.size()) to.resize(at + bytes.size());
      std::memcpy(to.data() + at, bytes.data(), bytes.size());
    }
  };
  struct Content { std::string synced; std::vector<Change> since; };
  struct File { sqlite3_file base; std::string* name; };

  static LossyVfs*& self() { static LossyVfs* s = nullptr; return s; }
  static File* file(sqlite3_file* f) { return reinterpret_cast<File*>(f); }
  static sqlite3_file* under(sqlite3_file* f) { return reinterpret_cast<sqlite3_file*>(file(f) + 1); }
  static Content* content(sqlite3_file* f) { return file(f)->name ? &self()->files_[*file(f)->name] : nullptr; }

  static int open(sqlite3_vfs*, const char* name, sqlite3_file* f, int flags, int* out_flags) {
    LossyVfs& v = *self();
    file(f)->base.pMethods = nullptr;
    file(f)->name = nullptr;
    under(f)->pMethods = nullptr;
    const int rc = v.real_->xOpen(v.real_, name, under(f), flags, out_flags);
    if (rc != SQLITE_OK) return rc;
    if (name) file(f)->name = new std::string{std::filesystem::path{name}.filename().string()};
    file(f)->base.pMethods = methods();
    return SQLITE_OK;
  }
  static int remove(sqlite3_vfs*, const char* name, int sync) {
    LossyVfs& v = *self();
    { const std::lock_guard lock{v.mutex_}; v.files_.erase(std::filesystem::path{name}.filename().string()); }
    return v.real_->xDelete(v.real_, name, sync);
  }
  static int close(sqlite3_file* f) {
    delete std::exchange(file(f)->name, nullptr);
    return under(f)->pMethods->xClose(under(f));
  }
  static int write(sqlite3_file* f, const void* data, int n, sqlite3_int64 at) {
    {
      const std::lock_guard lock{self()->mutex_};
      if (self()->full_) return SQLITE_FULL;
      if (Content* c = content(f)) c->since.push_back({static_cast<std::size_t>(at), {static_cast<const char*>(data), static_cast<std::size_t>(n)}, false});
    }
    return under(f)->pMethods->xWrite(under(f), data, n, at);
  }
  static int truncate(sqlite3_file* f, sqlite3_int64 size) {
    {
      const std::lock_guard lock{self()->mutex_};
      if (Content* c = content(f)) c->since.push_back({static_cast<std::size_t>(size), {}, true});
    }
    return under(f)->pMethods->xTruncate(under(f), size);
  }
  static int sync(sqlite3_file* f, int flags) {
    std::function<void()> hook;
    {
      const std::lock_guard lock{self()->mutex_};
      hook = self()->on_sync_;
    }
    if (hook) hook();  // the power fails just before the sync
    const std::lock_guard lock{self()->mutex_};
    if (Content* c = content(f)) {
      for (const Change& change : c->since) change.apply(c->synced);
      c->since.clear();
    }
    (void)flags;
    return SQLITE_OK;
  }

  static const sqlite3_io_methods* methods() {
    static const sqlite3_io_methods m = [] {
      sqlite3_io_methods x{};
      x.iVersion = 2;
      x.xClose = close;
      x.xRead = [](sqlite3_file* f, void* to, int n, sqlite3_int64 at) { return under(f)->pMethods->xRead(under(f), to, n, at); };
      x.xWrite = write;
      x.xTruncate = truncate;
      x.xSync = sync;
      x.xFileSize = [](sqlite3_file* f, sqlite3_int64* size) { return under(f)->pMethods->xFileSize(under(f), size); };
      x.xLock = [](sqlite3_file* f, int level) { return under(f)->pMethods->xLock(under(f), level); };
      x.xUnlock = [](sqlite3_file* f, int level) { return under(f)->pMethods->xUnlock(under(f), level); };
      x.xCheckReservedLock = [](sqlite3_file* f, int* held) { return under(f)->pMethods->xCheckReservedLock(under(f), held); };
      x.xFileControl = [](sqlite3_file* f, int op, void* p) { return under(f)->pMethods->xFileControl(under(f), op, p); };
      x.xSectorSize = [](sqlite3_file* f) { return under(f)->pMethods->xSectorSize(under(f)); };
      x.xDeviceCharacteristics = [](sqlite3_file*) { return 0; };
      x.xShmMap = [](sqlite3_file* f, int page, int size, int extend, void volatile** p) { return under(f)->pMethods->xShmMap(under(f), page, size, extend, p); };
      x.xShmLock = [](sqlite3_file* f, int at, int n, int flags) { return under(f)->pMethods->xShmLock(under(f), at, n, flags); };
      x.xShmBarrier = [](sqlite3_file* f) { under(f)->pMethods->xShmBarrier(under(f)); };
      x.xShmUnmap = [](sqlite3_file* f, int gone) { return under(f)->pMethods->xShmUnmap(under(f), gone); };
      return x;
    }();
    return &m;
  }

  sqlite3_vfs* real_ = sqlite3_vfs_find(nullptr);
  sqlite3_vfs vfs_{};
  mutable std::mutex mutex_;
  std::map<std::string, Content> files_;
  std::function<void()> on_sync_;
  bool full_ = false;
};

}  // namespace riserkeep::testing
