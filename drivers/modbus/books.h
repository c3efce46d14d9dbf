// What the bus thread counts and others read: the only state of a bus that two threads share, with its lock.
#pragma once

#include <array>
#include <chrono>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "drivers/modbus/bus.h"

namespace riserkeep {

class BusBooks {
 public:
  explicit BusBooks(const std::vector<int>& units);

  void link(bool up, std::string trouble);
  void connected();
  void replied(int unit, std::chrono::microseconds took);
  void failed(int unit, std::string trouble);
  void note(int unit, std::string trouble);        // trouble that leaves the device answering
  void resync();
  void missed(int polls);
  void disabled(const std::string& point, std::string why);
  void enabled(const std::string& point);
  BusHealth health() const;

 private:
  struct Device {
    bool answering = false;
    std::uint64_t requests = 0, failures = 0;
    std::array<std::chrono::microseconds, 128> took{};
    std::size_t replies = 0;
    std::string trouble, note;
  };
  DeviceHealth describe(int unit, const Device&) const;

  mutable std::mutex mutex_;
  BusHealth totals_;
  std::map<int, Device> devices_;
  std::map<std::string, std::string> disabled_;
};

}  // namespace riserkeep
