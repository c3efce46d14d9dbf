// The bus thread. Between any two bus calls it looks at the orders and the off-deadlines; one call is never
// longer than one reply time-out. See docs/field-wiring.md for the policy in a fitter's words.
#pragma once

#include <atomic>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "drivers/link.h"
#include "drivers/modbus/books.h"
#include "drivers/modbus/bus.h"
#include "drivers/modbus/output.h"
#include "drivers/modbus/plan.h"
#include "drivers/modbus/wire.h"
#include "drivers/wake.h"

namespace riserkeep {

// One unit id. Failures count in a row; from the third on the device is dead: probed with growing pauses,
// and everything of it is made safe again when it comes back, since it may have started anew meanwhile.
struct BusDevice {
  int unit = 1;
  Backoff backoff;
  Resync resync;
  int failures = 0;
  std::vector<DeviceTimeOut> time_outs_to_write;

  bool silent() const { return failures >= 2; }     // its readings are bad from here on
  bool dead() const { return failures >= 3; }
  // The first two failures are followed up at once: a single lost frame shall cost nobody a reading.
  bool reachable(SteadyTime now) const { return failures < 3 || backoff.due(now); }
};

class ModbusBus::Worker {
 public:
  Worker(const Site&, const LinkWiring&, std::vector<RegisterPoint>, std::vector<CoilOutput>, const Clock&, Sink);
  ~Worker();
  void start();
  void order(const OutputOrder&);
  void stop();
  SteadyTime last_progress() const { return SteadyTime{SteadyTime::duration{progress_.load()}}; }
  BusHealth health() const { return books_.health(); }

 private:
  // bus.cpp: the thread, orders, connecting, failures
  void run();
  bool work();
  void take_orders();
  std::chrono::milliseconds idle_time(SteadyTime now) const;
  void connect();
  void make_everything_safe();
  Answer call(BusDevice&, const std::function<Answer()>& bus_call);
  void replied(BusDevice&);
  void failed(BusDevice&, const Answer&);
  void close_link(bool earned, const std::string& why);
  void link_down(const std::string& why);
  void publish_observed();
  void progress();
  BusDevice& device(int unit);

  // poll.cpp: what is read and published
  void work_for(BusOutput&);
  CallResult carry_out(BusDevice&, BusOutput&, BusCall, bool& coil_on);
  void write_time_outs(BusDevice&);
  bool ask_in_step(BusDevice&);
  PollGroup* next_group(SteadyTime now);
  void poll(PollGroup&);
  void publish(const PollGroup&, std::span<const std::uint16_t> registers);
  void publish_bad(const PollGroup&, Why);
  void publish_silent(SteadyTime now);
  void refused(PollGroup&, const Answer&);
  void split(PollGroup&);
  void turn(PollGroup&);
  void build_resync(BusDevice&);
  std::string name(const PollGroup&) const;

  const Site& site_;
  LinkWiring wiring_;
  std::vector<RegisterPoint> points_;
  const Clock& clock_;
  Sink sink_;

  Wire wire_;
  LinkState link_;
  Backoff link_backoff_;
  bool earned_ = false;              // this connection has brought a good reply
  std::vector<PollGroup> groups_;
  std::vector<BusDevice> devices_;
  OutputDesk desk_;
  int live_calls_ = 0;               // since the last try of a dead device
  BusBooks books_;

  std::mutex orders_mutex_;
  std::vector<OutputOrder> orders_;
  Wake wake_;
  std::atomic<bool> stop_{false};
  std::atomic<SteadyTime::rep> progress_{0};
  std::jthread thread_;
};

}  // namespace riserkeep
