// What the driver tests share: a clock, a collecting sink and a small site.
#pragma once

#include <chrono>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "config/wiring.h"
#include "drivers/instrument.h"
#include "rules/site.h"

namespace bench {

using namespace riserkeep;

class RealClock : public Clock {
 public:
  EngineTime now() const override {
    const auto since = std::chrono::steady_clock::now() - start_;
    return EngineTime{hours(1) + std::chrono::duration_cast<Duration>(since)};
  }

 private:
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

inline bool until(std::chrono::milliseconds longest, const std::function<bool()>& done) {
  const auto end = std::chrono::steady_clock::now() + longest;
  while (!done()) {
    if (std::chrono::steady_clock::now() > end) return false;
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
  return true;
}

class Collector {
 public:
  Sink sink() {
    return [this](Input input) {
      const std::scoped_lock lock(mutex_);
      if (auto* r = std::get_if<Reading>(&input)) readings_.push_back(*r);
      if (auto* o = std::get_if<OutputObserved>(&input)) observed_.push_back(*o);
      if (auto* l = std::get_if<LinkChanged>(&input)) links_.push_back(*l);
    };
  }
  std::vector<Reading> readings() const { return copy(readings_); }
  std::vector<OutputObserved> observed() const { return copy(observed_); }
  std::vector<LinkChanged> links() const { return copy(links_); }

  std::size_t count(const std::function<bool(const Reading&)>& which) const {
    std::size_t n = 0;
    for (const Reading& r : readings()) n += which(r) ? 1u : 0u;
    return n;
  }
  std::size_t good(ChannelId c) const {
    return count([&](const Reading& r) { return r.channel == c && r.quality == Quality::good; });
  }
  bool saw(OutputId id, OutputOutcome outcome, OutputState state) const {
    for (const OutputObserved& o : observed()) {
      if (o.output == id && o.outcome == outcome && o.state == state) return true;
    }
    return false;
  }

 private:
  template <class T> std::vector<T> copy(const std::vector<T>& from) const {
    const std::scoped_lock lock(mutex_);
    return from;
  }
  mutable std::mutex mutex_;
  std::vector<Reading> readings_;
  std::vector<OutputObserved> observed_;
  std::vector<LinkChanged> links_;
};

// One link, `channels` auxiliary channels polled each `poll`, `vents` vents.
inline Site site(std::size_t channels, std::size_t vents, Duration poll) {
  Site s;
  s.id = "test-room";
  s.links.push_back({"bus", false});
  for (std::size_t i = 0; i < channels; ++i) {
    Channel c;
    c.signal = Signal::auxiliary;
    c.poll = poll;
    c.link = LinkId{0};
    s.channels.push_back(c);
  }
  for (std::size_t i = 0; i < vents; ++i) {
    Output o;
    o.id = "vent " + std::to_string(i + 1);
    o.link = LinkId{0};
    s.outputs.push_back(o);
  }
  return s;
}

inline RegisterPoint point(std::uint16_t channel, int unit, int address, ValueType type = ValueType::uint16) {
  RegisterPoint p;
  p.channel = ChannelId{channel};
  p.unit = unit;
  p.address = address;
  p.printed = "analog " + std::to_string(30001 + address);
  p.type = type;
  return p;
}

inline CoilOutput coil(std::uint16_t output, int unit, int at) {
  CoilOutput c;
  c.output = OutputId{output};
  c.unit = unit;
  c.coil = at;
  c.printed = "relays " + std::to_string(at + 1);
  return c;
}

inline LinkWiring tcp_link(int port, Duration time_out) {
  LinkWiring w;
  w.where = ModbusTcp{"127.0.0.1", static_cast<std::uint16_t>(port)};
  w.time_out = time_out;
  return w;
}

inline LinkWiring rtu_link(const std::string& device, Duration time_out) {
  LinkWiring w;
  w.where = ModbusRtu{device, 115200, 'N', 8, 1};   // a pty drops parity, and the library takes that for an error
  w.time_out = time_out;
  return w;
}

inline OutputOrder open_order(OutputId id, int number, EngineTime now, Duration lease) {
  return {id, OrderNo{static_cast<std::uint64_t>(number)}, true, false, now + seconds(3), now + lease, "test"};
}
inline OutputOrder close_order(OutputId id, int number, EngineTime now) {
  return {id, OrderNo{static_cast<std::uint64_t>(number)}, false, false, now + seconds(3), now, "test"};
}

}  // namespace bench
