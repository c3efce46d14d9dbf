// The relay that says the box is well, together with the lease that carries it out.
#include "daemon/runtime/well_output.h"

#include <doctest/doctest.h>

#include "drivers/lease.h"

using namespace riserkeep;

namespace {

// The lease on its bus, with a coil that obeys or not.
struct Relay {
  Site site;
  WellOutput well;
  OutputLease lease{OutputId{0}, OutputKind::box_well};
  EngineTime now{hours(1)};
  bool coil = false, dead = false;

  static Site with_relay() {
    Site s;
    s.outputs.push_back({});
    s.outputs[0].kind = OutputKind::box_well;
    return s;
  }
  Relay() : site(with_relay()), well(site) {
    lease.make_safe();
    bus();
  }
  void bus() {
    lease.enforce(now);
    for (int i = 0; i < 20 && lease.next(); ++i) {
      const BusCall call = *lease.next();
      if (dead) {                        // the bus says so after the third failure
        lease.done(call, CallResult::lost);
        lease.lost_sight();
        break;
      }
      if (call != BusCall::read_back) coil = call == BusCall::write_unsafe;
      lease.done(call, CallResult::done, coil);
    }
    for (const OutputObserved& seen : lease.take_observed()) well.observed(seen);
  }
  void run(int n, const std::string& trouble, bool loop_hangs = false) {
    for (int i = 0; i < n; ++i) {
      now += seconds(1);
      if (!loop_hangs)
        if (const auto order = well.look(now, trouble)) lease.order(*order, now);
      bus();
    }
  }
};

}  // namespace

TEST_CASE("box well: on while well, off at once with the reason, on again after") {
  Relay r;
  CHECK(r.well.why_off() == "starting");
  r.run(2, "");
  CHECK(r.coil);
  CHECK(r.well.why_off().empty());
  r.run(600, "");
  CHECK(r.coil);
  r.run(1, "history: disk full");
  CHECK_FALSE(r.coil);
  CHECK(r.well.why_off() == "history: disk full");
  r.run(2, "");
  CHECK(r.coil);
}

TEST_CASE("box well: a loop that hangs lets the lease run out within 10 s") {
  Relay r;
  r.run(5, "");
  REQUIRE(r.coil);
  r.run(8, "", true);
  CHECK(r.coil);
  r.run(3, "", true);
  CHECK_FALSE(r.coil);
  r.run(3, "");
  CHECK(r.coil);
}

TEST_CASE("box well: a relay that its unit dropped comes back, a dead unit is told") {
  Relay r;
  r.run(5, "");
  r.coil = false;                        // the unit's own time-out, or its power
  r.run(6, "");
  CHECK(r.coil);
  r.dead = true;
  r.run(30, "");
  CHECK(r.well.why_off() == "the relay's unit does not answer");
}

TEST_CASE("box well: without a relay in the file there is nothing to order") {
  Site site;
  WellOutput well(site);
  CHECK_FALSE(well.wired());
  CHECK_FALSE(well.look(EngineTime{}, ""));
  CHECK(well.why_off().empty());
}
