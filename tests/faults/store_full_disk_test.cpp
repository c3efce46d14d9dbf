// A full disk stops nothing: barriers are refused, memory stays bounded, all is written once there is room.
#include <doctest/doctest.h>


#include "daemon/history/journal.h"
#include "tests/daemon/formats/small_site.h"
#include "tests/daemon/history/feeder.h"
#include "tests/daemon/history/temp_dir.h"
#include "tests/faults/lossy_vfs.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

struct Health {
  std::mutex mutex;
  std::vector<BoxHealth> told;
  std::function<void(BoxHealth)> teller() {
    return [this](BoxHealth h) { const std::lock_guard lock{mutex}; told.push_back(std::move(h)); };
  }
};

StoreOptions slow() {
  StoreOptions o;
  o.commit_every = hours(1);
  return o;
}

}  // namespace

TEST_CASE("what was fed while the disk was full is there after it has room again") {
  const TempDir dir;
  const Site site = small_site();
  LossyVfs card;
  Health health;
  {
    Store store{dir.path(), site, "cfg", health.teller(), slow()};
    Feeder f{site, store, store.restore()};
    f.input(at_ms(0), WallMapped{1'950'000'000'000, true});
    for (int i = 1; i < 50; ++i) f.reading(at_ms(i * 1000), 0, i, 1);
    CHECK(durable(store));
    card.set_full(true);
    for (int i = 50; i < 90; ++i) f.reading(at_ms(i * 1000), 0, i, 1);
    CHECK(!durable(store));
    CHECK(!durable(store));
    REQUIRE(health.told.size() == 1);
    CHECK(!health.told[0].well);
    CHECK(health.told[0].part == BoxPart::history);
    CHECK(health.told[0].why.find("full") != std::string::npos);
    card.set_full(false);
    CHECK(durable(store));
    durable(store);
    REQUIRE(health.told.size() == 2);
    CHECK(health.told[1].well);
    CHECK(!store.wants_snapshot());
  }
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  CHECK(r.tail.size() == 90);
  CHECK(r.events.size() == 89);
  CHECK(!r.hole);
}

TEST_CASE("memory is bounded while the disk stays full, and a snapshot makes the record whole again") {
  const TempDir dir;
  const Site site = small_site();
  LossyVfs card;
  StoreOptions options = slow();
  options.queue_limit = 100;
  options.event_bytes_limit = 4000;
  options.sample_bytes_limit = 500;
  {
    Store store{dir.path(), site, "cfg", nullptr, options};
    Feeder feed{site, store, store.restore()};
    card.set_full(true);
    for (int i = 0; i < 5000; ++i) {
      feed.reading(at_ms(i * 1000), 0, i * 1000, i % 10 == 0);
      if (i % 500 == 0) CHECK(!durable(store));
    }
    CHECK(store.wants_snapshot());
    store.snapshot("state after 5000", feed.last());
    CHECK(!durable(store));
    for (int i = 0; i < 60; ++i) feed.reading(at_ms(6'000'000 + i), 0, i);
    CHECK(!durable(store));
    card.set_full(false);
    CHECK(durable(store));
  }
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  CHECK(r.snapshot == "state after 5000");
  CHECK(r.tail.size() == 60);
  CHECK(!r.hole);
}

TEST_CASE("a start on a full disk goes on in memory and begins the record when there is room") {
  const TempDir dir;
  const Site site = small_site();
  LossyVfs card;
  Health health;
  {
    Store store{dir.path(), site, "cfg", nullptr, slow()};
    Feeder feed{site, store, store.restore()};
    for (int i = 0; i < 20; ++i) feed.reading(at_ms(i), 0, i, 1);
    CHECK(durable(store));
  }
  card.set_full(true);
  {
    Store store{dir.path(), site, "cfg", health.teller(), slow()};
    const Restored r = store.restore();
    Feeder feed{site, store, r};
    for (int i = 0; i < 20; ++i) feed.reading(at_ms(100 + i), 0, i, 1);
    CHECK(!durable(store));
    REQUIRE(!health.told.empty());
    CHECK(!health.told[0].well);
    card.set_full(false);
    const bool written = durable(store) || durable(store);
    CHECK(written);
  }
  Database db{dir.path() / "journal.db", Database::Access::read};
  CHECK(!verify_chain(db).first_bad);
  CHECK(verify_chain(db).events >= 20);
}
