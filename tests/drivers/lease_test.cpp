#include "drivers/lease.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "bench.h"

using namespace riserkeep;

namespace {

const OutputId kVent{0};
EngineTime at(int s) { return EngineTime{seconds(s)}; }

// A coil that carries out what it is told, and can lose answers.
struct Relay {
  bool on = false;
  int lose = 0;                      // answers still to lose; the write itself is carried out
  bool reached = true;
  std::vector<BusCall> calls{};

  void run(OutputLease& lease, int most = 20) {
    while (lease.next() && most-- > 0) {
      const BusCall call = *lease.next();
      calls.push_back(call);
      if (reached && call == BusCall::write_safe) on = false;
      if (reached && call == BusCall::write_unsafe) on = true;
      const bool lost = !reached || (lose > 0 && lose-- > 0);
      lease.done(call, lost ? CallResult::lost : CallResult::done, on);
    }
  }
  long writes_on() const { return std::count(calls.begin(), calls.end(), BusCall::write_unsafe); }
};

OutputLease safe_vent(Relay& relay) {
  OutputLease lease(kVent, OutputKind::vent);
  lease.make_safe();
  relay.run(lease);
  lease.take_observed();
  relay.calls.clear();
  return lease;
}

}  // namespace

TEST_CASE("At the start a vent found open is reported open, closed, and reported shut") {
  Relay relay{.on = true};
  OutputLease lease(kVent, OutputKind::vent);
  lease.make_safe();
  relay.run(lease);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 2);
  CHECK(seen[0].outcome == OutputOutcome::found);
  CHECK(seen[0].state == OutputState::open);
  CHECK(seen[1].outcome == OutputOutcome::found);
  CHECK(seen[1].state == OutputState::shut);
  CHECK_FALSE(relay.on);
  CHECK(lease.surely_safe());
}

TEST_CASE("A vent found shut is reported once and still commanded shut") {
  Relay relay;
  OutputLease lease(kVent, OutputKind::vent);
  lease.make_safe();
  relay.run(lease, 1);
  CHECK(lease.take_observed().empty());   // said once an opening would be taken, not before
  relay.run(lease);
  CHECK(lease.take_observed().size() == 1);
  CHECK(relay.calls == std::vector{BusCall::read_back, BusCall::write_safe, BusCall::read_back});
}

TEST_CASE("The off-deadline is armed before the opening write leaves") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  REQUIRE(lease.next() == BusCall::write_unsafe);
  CHECK(lease.deadline() == at(30));
  relay.run(lease);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 1);
  CHECK(seen[0].outcome == OutputOutcome::confirmed);
  CHECK(seen[0].state == OutputState::open);
}

TEST_CASE("When nobody renews, the vent closes at the end of its lease and says so") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  relay.run(lease);
  lease.enforce(at(29));
  CHECK_FALSE(lease.next().has_value());
  lease.enforce(at(30));
  CHECK(lease.returning());
  lease.take_observed();
  relay.run(lease);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 1);
  CHECK(seen[0].outcome == OutputOutcome::expired);
  CHECK(seen[0].state == OutputState::shut);
  CHECK(seen[0].order == OrderNo{1});
  CHECK_FALSE(relay.on);
}

TEST_CASE("A renewal moves the deadline, reads back, and never opens") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  OutputOrder renewal = bench::open_order(kVent, 1, at(0), seconds(60));
  renewal.renewal = true;
  lease.order(renewal, at(0));
  CHECK(lease.take_observed().at(0).outcome == OutputOutcome::refused);
  CHECK_FALSE(lease.next().has_value());

  lease.order(bench::open_order(kVent, 2, at(0), seconds(30)), at(0));
  relay.run(lease);
  lease.take_observed();
  renewal.order = OrderNo{3};
  lease.order(renewal, at(1));
  CHECK(lease.next() == BusCall::read_back);
  relay.run(lease);
  CHECK(lease.take_observed().empty());   // nothing changed
  CHECK(lease.deadline() == at(60));
  CHECK(relay.writes_on() == 1);
  lease.enforce(at(59));
  CHECK(relay.on);
}

TEST_CASE("A renewal that finds the output dropped by its device says so") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 2, at(0), seconds(30)), at(0));
  relay.run(lease);
  lease.take_observed();
  relay.on = false;                       // its own time-out
  OutputOrder renewal = bench::open_order(kVent, 3, at(1), seconds(60));
  renewal.renewal = true;
  lease.order(renewal, at(1));
  relay.run(lease);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 1);
  CHECK(seen[0].outcome == OutputOutcome::refused);
  CHECK(seen[0].state == OutputState::shut);
  CHECK(relay.writes_on() == 1);
}

TEST_CASE("An opening that comes too late, or is overtaken by a newer order, is dropped as expired") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 5, at(0), seconds(30)), at(4));   // not_after is 3 s
  CHECK(lease.take_observed().at(0).outcome == OutputOutcome::expired);
  lease.order(bench::close_order(kVent, 7, at(5)), at(5));
  relay.run(lease);
  lease.take_observed();
  lease.order(bench::open_order(kVent, 6, at(5), seconds(30)), at(5));   // older than the close seen before it
  CHECK(lease.take_observed().at(0).outcome == OutputOutcome::expired);
  CHECK(relay.writes_on() == 0);
}

TEST_CASE("An opening that waited on a busy bus past not_after is not sent any more") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  lease.enforce(at(4));
  CHECK_FALSE(lease.next().has_value());
  CHECK(lease.take_observed().at(0).outcome == OutputOutcome::expired);
}

TEST_CASE("A close is carried out however old it is") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), hours(1)), at(0));
  relay.run(lease);
  lease.order(bench::close_order(kVent, 2, at(0)), at(600));
  relay.run(lease);
  CHECK_FALSE(relay.on);
  CHECK(lease.take_observed().back().outcome == OutputOutcome::confirmed);
}

TEST_CASE("A lost answer to an opening is read back and never sent again") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  relay.lose = 1;
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  relay.run(lease);
  CHECK(relay.writes_on() == 1);
  CHECK(lease.take_observed().back().outcome == OutputOutcome::confirmed);
}

TEST_CASE("An opening whose effect cannot be seen ends shut") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  relay.lose = 2;                    // the write's answer and the read-back's
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  relay.run(lease);
  CHECK(relay.writes_on() == 1);
  CHECK_FALSE(relay.on);
  const auto seen = lease.take_observed();
  REQUIRE_FALSE(seen.empty());
  CHECK(seen.front().outcome == OutputOutcome::refused);
  CHECK(seen.back().state == OutputState::shut);
}

TEST_CASE("A close to a silent device is tried on and answered when it is back") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  relay.run(lease);
  lease.take_observed();
  relay.reached = false;
  lease.order(bench::close_order(kVent, 2, at(1)), at(1));
  relay.run(lease, 10);
  auto seen = lease.take_observed();
  REQUIRE(seen.size() == 1);         // said once, not at every try
  CHECK(seen[0].outcome == OutputOutcome::refused);
  CHECK(seen[0].state == OutputState::unknown);
  CHECK(lease.next().has_value());
  relay.reached = true;
  relay.run(lease);
  seen = lease.take_observed();
  REQUIRE(seen.size() == 1);
  CHECK(seen[0].outcome == OutputOutcome::confirmed);
  CHECK(seen[0].order == OrderNo{2});
  CHECK(seen[0].state == OutputState::shut);
}

TEST_CASE("An output that is not proven safe is not opened") {
  OutputLease lease(kVent, OutputKind::vent);
  lease.make_safe();
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  CHECK(lease.next() == BusCall::read_back);
  CHECK(lease.take_observed().at(0).outcome == OutputOutcome::refused);
}

TEST_CASE("A device that drops its coil by itself is noticed at the next look") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  lease.order(bench::open_order(kVent, 1, at(0), seconds(30)), at(0));
  relay.run(lease);
  lease.take_observed();
  relay.on = false;
  lease.check();
  relay.run(lease);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 1);
  CHECK(seen[0].outcome == OutputOutcome::refused);
  CHECK(seen[0].state == OutputState::shut);
  CHECK_FALSE(lease.deadline().has_value());
}

TEST_CASE("A vent opened by somebody else is reported and closed") {
  Relay relay;
  OutputLease lease = safe_vent(relay);
  relay.on = true;
  lease.check();
  relay.run(lease);
  CHECK_FALSE(relay.on);
  const auto seen = lease.take_observed();
  REQUIRE(seen.size() == 2);
  CHECK(seen[0].state == OutputState::open);
  CHECK(seen[1].state == OutputState::shut);
}

TEST_CASE("A supply valve rests open with its coil off, and a close order is the one with a lease") {
  Relay relay;
  OutputLease lease(kVent, OutputKind::supply_valve);
  lease.make_safe();
  relay.run(lease);
  CHECK(lease.take_observed().back().state == OutputState::open);
  OutputOrder shut = bench::open_order(kVent, 1, at(0), seconds(30));
  shut.open = false;
  lease.order(shut, at(0));
  relay.run(lease);
  CHECK(relay.on);
  CHECK(lease.take_observed().back().state == OutputState::shut);
  lease.enforce(at(30));
  relay.run(lease);
  CHECK_FALSE(relay.on);
}
