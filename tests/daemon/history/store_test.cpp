#include "daemon/history/store.h"

#include <doctest/doctest.h>

#include <fstream>

#include "daemon/history/journal.h"
#include "tests/daemon/formats/small_site.h"
#include "tests/daemon/history/feeder.h"
#include "tests/daemon/history/temp_dir.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

void flip_a_byte(const std::filesystem::path& file, std::streamoff at) {
  std::fstream f{file, std::ios::in | std::ios::out | std::ios::binary};
  f.seekg(at);
  const char c = static_cast<char>(f.get() ^ 0x20);
  f.seekp(at);
  f.put(c);
}

bool same(const std::vector<Stamped>& a, const std::vector<Stamped>& b) {
  if (a.size() != b.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i)
    if (packed(a[i]) != packed(b[i])) return false;
  return true;
}

}  // namespace

TEST_CASE("a start finds the snapshot, the inputs after it and the events they caused") {
  const TempDir dir;
  const Site site = small_site();
  std::vector<Stamped> after;
  std::vector<std::string> told;
  {
    Store store{dir.path(), site, "cfg", nullptr};
    const Restored r = store.restore();
    CHECK(!r.snapshot);
    CHECK(r.next_input == Seq{1});
    CHECK(r.same_config);
    Feeder feed{site, store, r};
    store.clock({at_ms(0), "boot-a", 500, 1'950'000'000'000, true});
    for (int i = 0; i < 100; ++i) feed.reading(at_ms(i * 1000), 0, 38'000 - i, i % 10 == 0);
    store.snapshot("the state", feed.last());
    REQUIRE(durable(store));
    const std::size_t n = feed.fed.size(), m = feed.told.size();
    for (int i = 0; i < 50; ++i) feed.reading(at_ms(100'000 + i * 1000), 1, i, i % 5 == 0);
    after.assign(feed.fed.begin() + static_cast<std::ptrdiff_t>(n), feed.fed.end());
    told.assign(feed.told.begin() + static_cast<std::ptrdiff_t>(m), feed.told.end());
  }
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  CHECK(r.snapshot == "the state");
  CHECK(r.snapshot_upto == Seq{100});
  CHECK(same(r.tail, after));
  CHECK(!r.hole);
  REQUIRE(r.events.size() == told.size());
  for (std::size_t i = 0; i < told.size(); ++i) CHECK(r.events[i].json == told[i]);
  CHECK(r.first_event_seq == 11);
  CHECK(r.next_event_seq == 21);
  CHECK(r.next_input == Seq{151});
  CHECK(r.last_at == at_ms(149'000));
  REQUIRE(r.clock);
  CHECK(r.clock->boot_id == "boot-a");
  CHECK(r.clock->wall_minus_engine_ms == 1'950'000'000'000);
  CHECK(r.notes.empty());
}

TEST_CASE("another configuration restores the snapshot but no inputs") {
  const TempDir dir;
  const Site site = small_site();
  {
    Store store{dir.path(), site, "cfg", nullptr};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 10; ++i) feed.reading(at_ms(i), 0, i, 1);
    store.snapshot("state", feed.last());
    feed.reading(at_ms(50), 0, 1, 1);
  }
  Store store{dir.path(), site, "other", nullptr};
  const Restored r = store.restore();
  CHECK(!r.same_config);
  CHECK(r.snapshot == "state");
  CHECK(r.tail.empty());
  CHECK(r.events.empty());
  CHECK(r.next_input == Seq{12});
  CHECK(store.wants_snapshot());
}

TEST_CASE("a damaged snapshot is skipped and the older one has all inputs since") {
  const TempDir dir;
  const Site site = small_site();
  std::vector<Stamped> fed;
  {
    Store store{dir.path(), site, "cfg", nullptr};
    Feeder feed{site, store, store.restore()};
    for (int k = 0; k < 4; ++k) {
      for (int i = 0; i < 20; ++i) feed.reading(at_ms(k * 100'000 + i), 0, i);
      REQUIRE(durable(store));
      store.snapshot("state " + std::to_string(k), feed.last());
      REQUIRE(durable(store));
    }
    fed = feed.fed;
  }
  Database{dir.path() / "journal.db", Database::Access::write}.exec("UPDATE snapshots SET bytes = 'stale 3' WHERE upto = 80");
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  CHECK(r.snapshot == "state 2");
  CHECK(same(r.tail, {fed.begin() + 60, fed.end()}));
  REQUIRE(r.notes.size() == 1);
  CHECK(r.notes[0] == "journal.db: 1 damaged snapshot skipped");
}

TEST_CASE("missing inputs are a hole and nothing after it is replayed") {
  const TempDir dir;
  const Site site = small_site();
  {
    StoreOptions options;
    options.queue_limit = 30;
    options.commit_every = hours(1);
    Store store{dir.path(), site, "cfg", nullptr, options};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 40; ++i) feed.reading(at_ms(i), 0, i);
    CHECK(store.wants_snapshot());
    REQUIRE(durable(store));
    for (int i = 40; i < 50; ++i) feed.reading(at_ms(i), 0, i, 1);
  }
  {
    Store store{dir.path(), site, "cfg", nullptr};
    const Restored r = store.restore();
    CHECK(r.hole);
    CHECK(r.tail.size() == 30);
    CHECK(r.events.empty());
    CHECK(r.next_input == Seq{51});
    CHECK(r.next_event_seq == 11);
    store.snapshot("whole again", Seq{50});
    REQUIRE(durable(store));
    CHECK(!store.wants_snapshot());
  }
  Store store{dir.path(), site, "cfg", nullptr};
  CHECK(!store.restore().hole);
}

TEST_CASE("one changed value anywhere in an event breaks the chain at that event") {
  const TempDir dir;
  const Site site = small_site();
  {
    Store store{dir.path(), site, "cfg", nullptr};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 30; ++i) feed.reading(at_ms(i), 0, i, 1);
  }
  Database db{dir.path() / "journal.db", Database::Access::write};
  CHECK(verify_chain(db).events == 30);
  CHECK(!verify_chain(db).first_bad);
  for (const char* change : {"json = replace(json, 'input', 'inpuu')", "at_ms = at_ms + 1", "wall_ms = NULL", "kind = 'alarm'",
                             "point = 'attic'", "input = input + 1"}) {
    db.exec("SAVEPOINT s");
    db.exec((std::string{"UPDATE events SET "} + change + " WHERE seq = 17").c_str());
    CHECK_MESSAGE(verify_chain(db).first_bad == 17u, change);
    db.exec("ROLLBACK TO s; RELEASE s");
  }
  db.exec("DELETE FROM events WHERE seq = 5");
  CHECK(verify_chain(db).first_bad == 6u);
}

TEST_CASE("the chain goes on over a restart") {
  const TempDir dir;
  const Site site = small_site();
  for (int run = 0; run < 3; ++run) {
    Store store{dir.path(), site, "cfg", nullptr};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 5; ++i) feed.reading(at_ms(run * 10 + i), 0, i, 1);
  }
  Database db{dir.path() / "journal.db", Database::Access::read};
  CHECK(verify_chain(db).events == 15);
  CHECK(!verify_chain(db).first_bad);
}

TEST_CASE("damaged databases are set aside, said, and work goes on") {
  const TempDir dir;
  const Site site = small_site();
  {
    Store store{dir.path(), site, "cfg", nullptr};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 400; ++i) {
      feed.reading(at_ms(i * 60'000), static_cast<std::uint16_t>(i % 9), i, 1);
      if (i % 20 == 0) durable(store);
    }
  }
  for (const char* name : {"journal.db", "history.db"})
    for (std::streamoff at = 100; at < 4096 * 3; at += 7) flip_a_byte(dir.path() / name, at);
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  CHECK(!r.snapshot);
  CHECK(r.notes.size() == 2);
  for (const auto& n : r.notes) CHECK_MESSAGE(n.find("is damaged") != std::string::npos, n);
  Feeder feed{site, store, r};
  feed.reading(at_ms(1), 0, 1, 1);
  CHECK(durable(store));
  int aside = 0;
  for (const auto& f : std::filesystem::directory_iterator{dir.path()}) aside += f.path().string().find(".db.damaged-") != std::string::npos;
  CHECK(aside >= 2);
}

TEST_CASE("what is no database at all is set aside too") {
  const TempDir dir;
  std::ofstream{dir.path() / "journal.db"} << std::string(8192, 'x');
  std::ofstream{dir.path() / "history.db"} << "short";
  Store store{dir.path(), small_site(), "cfg", nullptr};
  CHECK(store.restore().notes.size() == 2);
  CHECK(durable(store));
}

TEST_CASE("a state directory belongs to one process") {
  const TempDir dir;
  CHECK(!is_locked(dir.path()));
  {
    const StateLock mine{dir.path()};
    CHECK(is_locked(dir.path()));
    CHECK_THROWS_WITH_AS(StateLock{dir.path()}, doctest::Contains("another riserkeep is running"), std::runtime_error);
  }
  CHECK(!is_locked(dir.path()));
  const StateLock again{dir.path()};
}

TEST_CASE("a directory that cannot be written is refused with where, what and the cure") {
  const TempDir dir;
  std::ofstream{dir.path() / "file"} << "x";
  for (const std::filesystem::path& bad : {dir.path() / "file", dir.path() / "file" / "below", std::filesystem::path{"/proc/riserkeep"}}) {
    CHECK_THROWS_WITH_AS((Store{bad, small_site(), "cfg", nullptr}), doctest::Contains("choose another one with --state DIR"), std::runtime_error);
    CHECK_THROWS_WITH_AS(StateLock{bad}, doctest::Contains(bad.string().c_str()), std::runtime_error);
  }
}

TEST_CASE("a wall clock that was set later labels what came before it in the same boot") {
  ClockMap map;
  map.add({at_ms(0), "a", 0, 1000, false});
  map.add({at_ms(500), "a", 0, 1'900'000'000'000, true});
  map.add({at_ms(900), "a", 0, 1'900'000'000'007, true});
  map.add({at_ms(2000), "b", 0, std::nullopt, false});
  CHECK(map.offset_ms(at_ms(100)) == 1'900'000'000'000);
  CHECK(map.offset_ms(at_ms(600)) == 1'900'000'000'000);
  CHECK(map.offset_ms(at_ms(950)) == 1'900'000'000'007);
  CHECK(map.offset_ms(at_ms(2500)) == 1'900'000'000'007);
  CHECK(!ClockMap{}.offset_ms(at_ms(1)));
}
