// All links of the site: buses and brokers. The executor's orders go through here to the bus that has the output.
#pragma once

#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/site.h"
#include "daemon/runtime/executor.h"
#include "daemon/service/resources.h"
#include "drivers/modbus/bus.h"
#include "drivers/mqtt/client.h"

namespace riserkeep {

class Devices : public OutputPort {
 public:
  // `what`, `clock` and whatever `sink` needs must outlive this.
  Devices(const Description& what, const Clock& clock, const Sink& sink, const ToEngineTime& to_engine);
  ~Devices() override;

  void start();
  void order(const OutputOrder&) override;
  void stop_buses();                       // outputs made safe, all buses at once, bounded
  void stop_brokers();
  void publish(std::string_view topic, const std::string& payload, bool retained, int qos);

  bool has_broker() const { return !brokers_.empty(); }
  // Of the bus thread that has been still for longest; absent without a bus.
  std::optional<std::chrono::steady_clock::time_point> slowest_progress() const;
  std::vector<LinkNote> troubles() const;

 private:
  struct Bus { std::string id; std::unique_ptr<ModbusBus> bus; };
  struct Broker { std::string id; std::unique_ptr<MqttLink> link; };
  std::vector<Bus> buses_;
  std::vector<Broker> brokers_;
  std::vector<std::optional<std::size_t>> bus_of_;   // by output
  bool stopped_ = false;
};

}  // namespace riserkeep
