// Loop side and courier together, against a port of loopback that takes connections and says nothing.
#include "daemon/alerts/alerts.h"

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <chrono>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "tests/daemon/formats/small_site.h"

using namespace riserkeep;
using namespace riserkeep::testing;

namespace {

class SilentServer {
 public:
  SilentServer() : fd_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    sockaddr_in a{};
    a.sin_family = AF_INET;
    a.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof a;
    REQUIRE(::bind(fd_, reinterpret_cast<const sockaddr*>(&a), size) == 0);
    REQUIRE(::listen(fd_, 16) == 0);
    REQUIRE(::getsockname(fd_, reinterpret_cast<sockaddr*>(&a), &size) == 0);
    port_ = ntohs(a.sin_port);
  }
  ~SilentServer() { ::close(fd_); }
  SilentServer(const SilentServer&) = delete;
  SilentServer& operator=(const SilentServer&) = delete;

  bool called(int within_ms) const {
    pollfd p{fd_, POLLIN, 0};
    return ::poll(&p, 1, within_ms) == 1;
  }
  std::string uri() const { return "smtp://127.0.0.1:" + std::to_string(port_); }

 private:
  int fd_;
  int port_ = 0;
};

// The loop's stand-in: what is posted to it runs when the test says so.
struct Desk {
  explicit Desk(const std::string& server) {
    what.site = small_site();
    what.site.people.resize(2);
    what.site.people[0].id = "night";
    what.site.people[0].reach = {{ReachBy::mail, "night@example.org"}};
    what.site.people[1].id = "nobody";
    what.site.people[1].reach = {{ReachBy::hook, "https://hook.example.org"}};
    MailServer mail;
    mail.uri = server;
    mail.from = "box@example.org";
    mail.tls_required = false;
    mail.time_out = seconds(20);
    what.delivery.mail = mail;
    alerts.emplace(what, "key", Alerts::Ports{
        [this](OutboxMark m) { marks.push_back(std::move(m)); }, [this](std::function<void(bool)> done) { barriers.push_back(std::move(done)); },
        [this](Input i) { fed.push_back(std::move(i)); },
        [this](std::function<void()> work) { const std::lock_guard lock{mutex}; posted.push_back(std::move(work)); },
        [this]() -> const AlarmBoard& { return board; }});
  }
  std::vector<OutboxRow> tell(std::uint64_t id, std::vector<PersonId> to) {
    Notice n;
    n.id = NoticeId{id};
    n.to = std::move(to);
    n.subject = "air is low";
    return alerts->decided(id, now, std::nullopt, n);
  }
  void durable() {
    for (auto& done : std::exchange(barriers, {})) done(true);
  }
  void take_answers() {
    std::vector<std::function<void()>> work;
    {
      const std::lock_guard lock{mutex};
      work.swap(posted);
    }
    for (auto& w : work) w();
  }
  void later(Duration d) {
    now += d;
    alerts->due(now, std::nullopt);
  }

  Description what;
  AlarmBoard board;
  std::vector<OutboxMark> marks;
  std::vector<std::function<void(bool)>> barriers;
  std::vector<Input> fed;
  std::mutex mutex;
  std::vector<std::function<void()>> posted;
  EngineTime now{hours(1)};
  std::optional<Alerts> alerts;            // last: its thread uses what is above
};

}  // namespace

TEST_CASE("nothing leaves before the disk knows of it, or has had 2 s") {
  const SilentServer server;
  Desk desk(server.uri());
  desk.alerts->start();
  const auto rows = desk.tell(1, {PersonId{0}, PersonId{1}});
  REQUIRE(rows.size() == 1);               // none for whom no way is set up
  CHECK(rows[0].person == "night");
  desk.later(seconds(1));
  CHECK(desk.barriers.empty());            // decided, not yet published
  desk.alerts->published(1, true, desk.now);
  REQUIRE(desk.marks.size() == 1);
  CHECK(desk.marks[0].started);            // before the barrier
  REQUIRE(desk.barriers.size() == 1);
  CHECK_FALSE(server.called(100));
  SUBCASE("the disk answers") { desk.durable(); }
  SUBCASE("it does not") {
    desk.later(seconds(1));
    CHECK_FALSE(server.called(100));
    desk.later(seconds(1));
  }
  CHECK(server.called(5000));
  CHECK(desk.alerts->busy());
  const auto begun = std::chrono::steady_clock::now();
  desk.alerts->stop();                     // a server that hangs does not hold up the end
  CHECK(std::chrono::steady_clock::now() - begun < std::chrono::seconds(2));
  desk.take_answers();
  CHECK(desk.marks.back().started);        // so the next start sends it again, marked
}

TEST_CASE("messages that do not get out for 15 min are a trouble of the box, once") {
  Desk desk("smtp://127.0.0.1:1");         // nobody listens there
  desk.alerts->restore({}, true, desk.now);
  desk.alerts->start();
  desk.tell(1, {PersonId{0}});
  desk.alerts->published(1, true, desk.now);
  for (int minute = 0; minute < 20; ++minute) {
    desk.durable();
    const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(5);
    const bool sent = desk.alerts->busy();
    while (sent && desk.alerts->busy() && std::chrono::steady_clock::now() < end) {
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
      desk.take_answers();
      desk.durable();
    }
    desk.later(minutes(1));
  }
  REQUIRE(desk.fed.size() == 1);
  const auto& health = std::get<BoxHealth>(desk.fed[0]);
  CHECK(health.part == BoxPart::messages);
  CHECK_FALSE(health.well);
  CHECK(health.why.starts_with("1 message not delivered within 15 min: mail: 127.0.0.1:1, connecting: "));
  const auto s = desk.alerts->summary();
  CHECK(s.waiting == 1);
  REQUIRE(s.ways.size() == 1);
  CHECK(s.ways[0].way == "mail");
  CHECK(s.ways[0].failures > 4);
}

TEST_CASE("a box that said it was unwell before a restart says it is well again") {
  Desk desk("smtp://127.0.0.1:1");
  desk.alerts->restore({}, false, desk.now);
  desk.later(seconds(1));
  REQUIRE(desk.fed.size() == 1);
  CHECK(std::get<BoxHealth>(desk.fed[0]).well);
}
