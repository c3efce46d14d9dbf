// A power cut just before any sync of the disk loses nothing that was said to be durable.
#include <doctest/doctest.h>

#include <atomic>

#include "daemon/history/journal.h"
#include "tests/daemon/formats/small_site.h"
#include "tests/daemon/history/feeder.h"
#include "tests/daemon/history/temp_dir.h"
#include "tests/faults/lossy_vfs.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

struct Cut { LossyVfs::Image image; std::size_t durable_inputs, durable_events; };

std::vector<Cut> run_with_cuts(const Site& site, std::uint64_t seed) {
  const TempDir dir;
  LossyVfs card;
  std::vector<Cut> cuts;
  std::mt19937_64 random{seed};
  std::atomic<std::size_t> inputs{0}, events{0};
  StoreOptions options;
  options.commit_every = hours(1);
  Store store{dir.path(), site, "cfg", nullptr, options};
  const Restored r = store.restore();
  card.on_sync([&] { cuts.push_back({card.image(random), inputs, events}); });
  Feeder feed{site, store, r};
  std::mt19937_64 load{seed + 1};
  for (int k = 0; k < 60; ++k) {
    for (std::uint64_t i = 0; i < 1 + load() % 40; ++i)
      feed.reading(at_ms(static_cast<std::int64_t>(k) * 200'000 + static_cast<std::int64_t>(i)), static_cast<std::uint16_t>(load() % 9), 38'000, load() % 8 == 0);
    if (k % 10 == 9) store.snapshot("state after " + std::to_string(static_cast<std::uint64_t>(feed.last())), feed.last());
    if (!durable(store)) break;
    inputs = feed.fed.size();
    events = feed.told.size();
  }
  store.stop();
  card.on_sync(nullptr);
  return cuts;
}

}  // namespace

TEST_CASE("a power cut before any sync keeps every durable input and event, and no event outlives its inputs") {
  const Site site = small_site();
  const std::uint64_t seed = std::random_device{}();
  MESSAGE("seed " << seed);
  const auto cuts = run_with_cuts(site, seed);
  REQUIRE(cuts.size() > 60);
  for (const Cut& cut : cuts) {
    const TempDir dir;
    LossyVfs::put(cut.image, dir.path());
    Store store{dir.path(), site, "cfg", nullptr};
    const Restored r = store.restore();
    for (const auto& n : r.notes) FAIL_CHECK(n);
    REQUIRE(!r.hole);
    REQUIRE(static_cast<std::uint64_t>(r.next_input) > cut.durable_inputs);
    REQUIRE(r.next_event_seq > cut.durable_events);
    if (r.snapshot) REQUIRE(*r.snapshot == "state after " + std::to_string(static_cast<std::uint64_t>(r.snapshot_upto)));
    REQUIRE(static_cast<std::uint64_t>(r.snapshot_upto) + r.tail.size() + 1 == static_cast<std::uint64_t>(r.next_input));
    store.stop();
    Database db{dir.path() / "journal.db", Database::Access::read};
    const ChainResult chain = verify_chain(db);
    REQUIRE(!chain.first_bad);
    REQUIRE(chain.events + 1 == r.next_event_seq);
  }
  MESSAGE(cuts.size() << " power cuts");
}
