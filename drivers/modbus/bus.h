// One Modbus bus (a TCP connection or a serial line) on a thread of its own: polls the points, carries out
// orders, holds the off-deadlines. Nothing outside the thread touches the bus.
#pragma once

#include <chrono>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "config/wiring.h"
#include "drivers/instrument.h"
#include "rules/site.h"

namespace riserkeep {

// How one device (unit id) of the bus does. Reply times are those of the last 128 good replies.
struct DeviceHealth {
  int unit = 0;
  bool answering = false;
  std::uint64_t requests = 0, failures = 0;
  std::chrono::milliseconds reply_min{}, reply_median{}, reply_p99{};
  std::string trouble;                     // empty when well; else what, and how to mend it
};

struct BusHealth {
  bool up = false;
  std::uint64_t connects = 0, requests = 0, failures = 0, resyncs = 0, polls_missed = 0;
  std::string trouble;                     // of the link itself; empty when well
  std::vector<DeviceHealth> devices;
  std::vector<std::string> disabled_points;  // "analog 30007: the device has no such register (exception 2)"
};

// Feeds `sink` from its thread with Reading, LinkChanged and OutputObserved; `clock` and `sink` must outlive
// it. Never throws after construction: whatever the bus does ends in health() and in bad readings.
class ModbusBus {
 public:
  ModbusBus(const Site&, const LinkWiring&, std::vector<RegisterPoint>, std::vector<CoilOutput>, const Clock&, Sink);
  ~ModbusBus();                            // stop()
  ModbusBus(const ModbusBus&) = delete;
  ModbusBus& operator=(const ModbusBus&) = delete;

  void start();
  // Thread-safe, returns at once. Orders towards the safe state pass all others and any poll. Orders to
  // outputs of other buses are ignored.
  void order(const OutputOrder&);
  // Makes the outputs safe, then joins. Bounded: a silent bus costs at most 2 reply time-outs plus 1 s for
  // each unit that has outputs.
  void stop();

  std::chrono::steady_clock::time_point last_progress() const;  // for the watchdog; moves even when nothing answers
  BusHealth health() const;

 private:
  class Worker;
  std::unique_ptr<Worker> worker_;
};

}  // namespace riserkeep
