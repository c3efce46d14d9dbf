#include "daemon/alerts/outbox.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "tests/daemon/alerts/outbox_world.h"

using namespace riserkeep;
using namespace riserkeep::testing;
using std::chrono::hours;

TEST_CASE("a mail server away for 6 h loses nothing: each message once, in order, with its own time") {
  OutboxWorld w({by_mail("night"), by_mail("works")});
  w.answer = [](const Reach&, Duration now) { return now < hours(7) ? away() : good(); };
  std::vector<std::uint64_t> told;
  for (std::uint64_t n = 1; n <= 36; ++n) {              // one every 10 min
    w.tell(n, "night");
    if (n % 3 == 0) w.tell(n, "works");
    told.push_back(n);
    w.run(minutes(10));
  }
  CHECK(w.arrived.empty());
  CHECK(w.outbox.summary().waiting == 48);
  CHECK(w.outbox.summary().oldest == at(hours(1)));
  CHECK(w.attempts < 200);                               // the server is not hammered: news pulls a try forward, 30 s apart at most
  w.run(minutes(20));
  CHECK(w.of("night") == told);
  CHECK(w.of("works") == std::vector<std::uint64_t>{3, 6, 9, 12, 15, 18, 21, 24, 27, 30, 33, 36});
  for (const auto& a : w.arrived) {
    CHECK(a.decided == at(hours(1) + minutes(10) * static_cast<int>(a.notice - 1)));
    CHECK_FALSE(a.repeat);
  }
  CHECK(w.outbox.idle());
  CHECK_FALSE(w.outbox.trouble(at(w.now)));
}

TEST_CASE("pauses double from 30 s to 15 min while nothing new happens") {
  OutboxWorld w({by_mail("night")});
  std::vector<Duration> tries;
  w.answer = [&](const Reach&, Duration now) { tries.push_back(now); return away(); };
  w.tell(1, "night");
  w.run(hours(1));
  REQUIRE(tries.size() >= 8);
  const std::vector<Duration> pauses{seconds(30), seconds(60), seconds(120), seconds(240), seconds(480), seconds(900), seconds(900)};
  for (std::size_t i = 0; i < pauses.size(); ++i) CHECK(tries[i + 1] - tries[i] == pauses[i]);
}

TEST_CASE("550 for one of three recipients does not hold up the others and is named") {
  OutboxWorld w({by_mail("night"), by_mail("gone"), by_mail("works")});
  w.answer = [](const Reach& r, Duration) { return r.address == "gone@example.org" ? refused() : good(); };
  for (const char* who : {"night", "gone", "works"}) w.tell(1, who);
  w.run(seconds(5));
  CHECK(w.of("night") == std::vector<std::uint64_t>{1});
  CHECK(w.of("works") == std::vector<std::uint64_t>{1});
  CHECK(w.of("gone").empty());
  CHECK(w.outbox.idle());
  CHECK(w.outbox.summary().given_up == 1);
  const auto why = w.outbox.trouble(at(w.now));
  REQUIRE(why);
  CHECK(*why == "gone could not be told: 550 5.1.1 no such user");
  const auto end = std::find_if(w.marks.begin(), w.marks.end(), [](const OutboxMark& m) { return m.end == OutboxEnd::given_up; });
  REQUIRE(end != w.marks.end());
  CHECK(end->person == "gone");
  CHECK(end->error == "550 5.1.1 no such user");
}

TEST_CASE("greylisting is waited out, and holds up nobody else") {
  OutboxWorld w({by_mail("night"), by_mail("works")});
  w.answer = [](const Reach& r, Duration now) {
    return r.address == "night@example.org" && now < hours(1) + minutes(5) ? later() : good();
  };
  w.tell(1, "night");
  w.tell(1, "works");
  w.tell(2, "night");
  w.run(seconds(2));
  CHECK(w.of("works") == std::vector<std::uint64_t>{1});
  w.run(minutes(12));
  CHECK(w.of("night") == std::vector<std::uint64_t>{1, 2});
  CHECK(w.outbox.summary().given_up == 0);
}

TEST_CASE("after five failures running the person's next way is tried, and the first one again now and then") {
  OutboxWorld w({{"night", {{ReachBy::mail, "night@example.org"}, {ReachBy::hook, "https://hook.example.org/a"}}}});
  int by_mail_tried = 0;
  w.answer = [&](const Reach& r, Duration now) {
    if (r.by == ReachBy::hook) return good();
    ++by_mail_tried;
    return now < hours(4) ? away() : good();
  };
  w.tell(1, "night");
  w.run(minutes(20));
  REQUIRE(w.arrived.size() == 1);
  CHECK(by_mail_tried == 5);
  CHECK(w.arrived[0].address == "https://hook.example.org/a");
  CHECK(w.arrived[0].when == hours(1) + seconds(30 + 60 + 120 + 240 + 1));   // right after the fifth
  w.tell(2, "night");                                    // mail is known to fail and was looked at just now
  w.run(seconds(2));
  CHECK(w.of("night") == std::vector<std::uint64_t>{1, 2});
  CHECK(by_mail_tried == 5);
  w.run(hours(3));
  w.tell(3, "night");                                    // long after: worth one look, and it is back
  w.run(seconds(2));
  REQUIRE(w.arrived.size() == 3);
  CHECK(w.arrived[2].address == "night@example.org");
}

TEST_CASE("a refusal goes to the next way at once") {
  OutboxWorld w({{"night", {{ReachBy::mail, "night@example.org"}, {ReachBy::sms_by_mail, "5550100@text.example"}}}});
  w.answer = [](const Reach& r, Duration) { return r.by == ReachBy::mail ? refused() : good(); };
  w.tell(1, "night");
  w.run(seconds(3));
  REQUIRE(w.arrived.size() == 1);
  CHECK(w.arrived[0].address == "5550100@text.example");
}

TEST_CASE("after 48 h a message is given up, which is a trouble until that person hears something again") {
  OutboxWorld w({by_mail("night")});
  bool up = false;
  w.answer = [&](const Reach&, Duration) { return up ? good() : away(); };
  w.tell(1, "night");
  w.run(minutes(14));
  CHECK_FALSE(w.outbox.trouble(at(w.now)));
  w.run(minutes(2));
  REQUIRE(w.outbox.trouble(at(w.now)));
  CHECK(*w.outbox.trouble(at(w.now)) == "1 message not delivered within 15 min: mail: connection refused");
  w.run(hours(48));
  CHECK(w.outbox.idle());
  CHECK(w.outbox.summary().given_up == 1);
  CHECK(*w.outbox.trouble(at(w.now)) == "night could not be told: connection refused");
  up = true;
  w.tell(2, "night");
  w.run(minutes(1));
  CHECK_FALSE(w.outbox.trouble(at(w.now)));
}

TEST_CASE("a message about undelivered messages never takes the way that fails") {
  OutboxWorld w({by_mail("night"), {"office", {{ReachBy::mail, "office@example.org"}, {ReachBy::hook, "https://hook.example.org/a"}}}});
  w.answer = [](const Reach& r, Duration) { return r.by == ReachBy::hook ? good() : away(); };
  w.tell(1, "night");
  w.run(minutes(16));
  const int tried = w.attempts;
  w.tell(2, "night", Priority::medium, NoticeKind::alarm, true);
  w.tell(2, "office", Priority::medium, NoticeKind::alarm, true);
  w.run(seconds(5));
  CHECK(w.of("office") == std::vector<std::uint64_t>{2});
  CHECK(w.arrived.back().address == "https://hook.example.org/a");
  CHECK(w.attempts - tried <= 2);                        // the post, and the older message's own try
  w.run(hours(1));
  const auto dropped = std::find_if(w.marks.begin(), w.marks.end(), [](const OutboxMark& m) { return m.notice == 2 && m.person == "night"; });
  REQUIRE(dropped != w.marks.end());
  CHECK(dropped->end == OutboxEnd::dropped);
}

TEST_CASE("what may have arrived goes out again marked as a repeat, once") {
  OutboxWorld w({by_mail("night")});
  int n = 0;
  w.answer = [&](const Reach&, Duration) { return ++n == 1 ? Outcome{Outcome::Kind::unreachable, true, "no answer after the text"} : good(); };
  w.tell(1, "night");
  w.run(minutes(5));
  REQUIRE(w.arrived.size() == 2);
  CHECK_FALSE(w.arrived[0].repeat);
  CHECK(w.arrived[1].repeat);
}

TEST_CASE("a kill between decided, sent and recorded: the disk says what may be a repeat") {
  OutboxWorld w({by_mail("night")});
  Message m;
  m.notice = 7;
  m.person = "night";
  m.subject = "Air low";
  m.references = {"7K6"};
  m.priority = Priority::critical;
  OutboxRow row = row_of(m);
  SUBCASE("decided, not sent") {
    REQUIRE(message_of(row));
    CHECK(message_of(row)->references == m.references);
    CHECK(message_of(row)->priority == Priority::critical);
    w.outbox.resume(*message_of(row), row);
    w.run(seconds(2));
    REQUIRE(w.arrived.size() == 1);
    CHECK_FALSE(w.arrived[0].repeat);
  }
  SUBCASE("under way: the row was marked before anything left") {
    w.tell(7, "night");
    REQUIRE(w.outbox.due(at(w.now)).size() == 1);
    const auto marks = w.outbox.take_marks();
    REQUIRE(marks.size() == 1);
    CHECK(marks[0].started);
    row.started = marks[0].started;
    OutboxWorld next({by_mail("night")});
    next.outbox.resume(*message_of(row), row);
    next.run(seconds(2));
    REQUIRE(next.arrived.size() == 1);
    CHECK(next.arrived[0].repeat);
  }
  SUBCASE("a failure that is certain clears the mark") {
    w.answer = [](const Reach&, Duration) { return away(); };
    w.tell(7, "night");
    w.run(seconds(2));
    REQUIRE(w.marks.size() == 2);
    CHECK_FALSE(w.marks[1].started);
    CHECK(w.marks[1].failures == 1);
  }
}

TEST_CASE("a test does not wait behind what is held up and does not linger") {
  OutboxWorld w({by_mail("night")});
  w.answer = [](const Reach&, Duration) { return away(); };
  w.tell(1, "night");
  w.run(minutes(10));
  const int before = w.attempts;
  w.tell(2, "night", Priority::low, NoticeKind::test);
  w.step();
  CHECK(w.attempts == before + 1);
  CHECK(w.outbox.summary().waiting == 1);
}

TEST_CASE("nobody of that name, or no way that is set up: said at once") {
  OutboxWorld w({by_mail("night"), {"works", {}}});
  CHECK_FALSE(w.tell(1, "works"));
  CHECK_FALSE(w.tell(1, "someone"));
  Message m;
  m.notice = 3;
  m.person = "left-the-company";
  CHECK_FALSE(w.outbox.resume(m, row_of(m)));
  REQUIRE(w.outbox.take_marks().size() == 1);
}

TEST_CASE("the urgent goes first between people, the order holds for each") {
  OutboxWorld w({by_mail("a"), by_mail("b")});
  w.tell(1, "a", Priority::low);
  w.tell(2, "b", Priority::critical);
  w.tell(3, "b", Priority::low);
  w.run(seconds(5));
  REQUIRE(w.arrived.size() == 3);
  CHECK(w.arrived[0].notice == 2);
  CHECK(w.of("b") == std::vector<std::uint64_t>{2, 3});
}
