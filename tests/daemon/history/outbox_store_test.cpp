// Messages in the journal: with their event or not at all.
#include <doctest/doctest.h>

#include <algorithm>

#include "daemon/history/database.h"
#include "daemon/history/journal.h"
#include "daemon/history/store.h"
#include "tests/daemon/formats/small_site.h"
#include "tests/daemon/history/feeder.h"
#include "tests/daemon/history/temp_dir.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

OutboxRow row(std::uint64_t notice, const std::string& person) {
  OutboxRow r;
  r.notice = notice;
  r.person = person;
  r.decided = at_ms(static_cast<std::int64_t>(notice) * 1000);
  r.wall = WallTime{1'900'000'000'000};
  r.content = "{}";
  return r;
}

}  // namespace

TEST_CASE("messages that wait are found again with how far they came, finished ones are not") {
  const TempDir dir;
  const Site site = small_site();
  {
    Store store{dir.path(), site, "cfg", nullptr};
    const Restored r = store.restore();
    CHECK(r.outbox.waiting.empty());
    store.append({Seq{1}, at_ms(1000), Elapsed{}}, {}, {row(1, "night"), row(1, "works"), row(2, "night")});
    store.outbox({1, "night", true, 0, "", "night@example.org", {}, at_ms(1500)});
    store.outbox({1, "night", false, 0, "", "night@example.org", OutboxEnd::delivered, at_ms(2000)});
    store.outbox({1, "works", false, 3, "550 no such user", "works@example.org", OutboxEnd::given_up, at_ms(2500)});
    store.outbox({2, "night", true, 1, "connection refused", "night@example.org", {}, at_ms(3000)});
    store.spend({"abc", 1'900'000'000'000});
    REQUIRE(durable(store));
  }
  Store store{dir.path(), site, "cfg", nullptr};
  const Restored r = store.restore();
  REQUIRE(r.outbox.waiting.size() == 1);
  const OutboxRow& w = r.outbox.waiting[0];
  CHECK(w.notice == 2);
  CHECK(w.person == "night");
  CHECK(w.decided == at_ms(2000));
  CHECK(w.wall->ms == 1'900'000'000'000);
  CHECK(w.started);
  CHECK(w.failures == 1);
  CHECK(w.error == "connection refused");
  CHECK(r.outbox.lost == std::vector<std::string>{"works"});
  REQUIRE(r.outbox.spent.size() == 1);
  CHECK(r.outbox.spent[0].sha256 == "abc");
}

TEST_CASE("a message goes to the disk in the transaction of its event") {
  const TempDir dir;
  const auto file = dir.path() / "journal.db";
  JournalBatch batch;
  batch.inputs.push_back({Seq{1}, at_ms(1000), Elapsed{}});
  batch.events.push_back({1, {1, at_ms(1000), std::nullopt, "notice", "box", "{}"}});
  batch.messages.push_back(row(1, "night"));
  Journal journal{file};
  journal.use_config("cfg", "", "");
  journal.database().exec("CREATE TRIGGER no BEFORE INSERT ON outbox BEGIN SELECT RAISE(ABORT, 'no'); END");
  CHECK_THROWS_AS(journal.commit(batch), DatabaseError);
  CHECK(journal.database().number("SELECT count(*) FROM events") == 0);
  journal.database().exec("DROP TRIGGER no");
  journal.commit(batch);
  CHECK(journal.database().number("SELECT count(*) FROM events") == 1);
  CHECK(journal.database().number("SELECT count(*) FROM outbox") == 1);
  CHECK(verify_chain(journal.database()).first_bad == std::nullopt);
}

TEST_CASE("a journal of the version before gets the outbox' tables") {
  const TempDir dir;
  const auto file = dir.path() / "journal.db";
  { Journal journal{file}; }
  {
    Database db{file, Database::Access::write};
    db.exec("DROP TABLE outbox; DROP TABLE spent_tokens; PRAGMA user_version=1");
  }
  Journal journal{file};
  CHECK(journal.database().number("PRAGMA user_version") == 2);
  CHECK(journal.database().number("SELECT count(*) FROM outbox") == 0);
}

TEST_CASE("what ended is kept for 90 days as a record of who was told when") {
  const TempDir dir;
  Journal journal{dir.path() / "journal.db"};
  journal.use_config("cfg", "", "");
  JournalBatch batch;
  batch.messages = {row(1, "night"), row(2, "night")};
  batch.message_marks.push_back({1, "night", false, 0, "", "night@example.org", OutboxEnd::delivered, at_ms(0)});
  journal.commit(batch);
  JournalBatch later;
  later.message_marks.push_back({2, "night", false, 0, "", "night@example.org", OutboxEnd::delivered, at_ms(0) + std::chrono::days(89)});
  journal.commit(later);
  CHECK(journal.database().number("SELECT count(*) FROM outbox WHERE ended = 'delivered'") == 2);
  later.message_marks[0].at = at_ms(0) + std::chrono::days(91);
  journal.commit(later);
  CHECK(journal.database().number("SELECT count(*) FROM outbox") == 1);
}
