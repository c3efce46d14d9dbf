#include "daemon/runtime/devices.h"

#include <algorithm>
#include <thread>
#include <utility>

namespace riserkeep {
namespace {

template <class Point>
std::vector<Point> on_link(const std::vector<Point>& all, LinkId link) {
  std::vector<Point> some;
  std::ranges::copy_if(all, std::back_inserter(some), [link](const Point& p) { return p.link == link; });
  return some;
}

}  // namespace

Devices::Devices(const Description& what, const Clock& clock, const Sink& sink, const ToEngineTime& to_engine)
    : bus_of_(what.site.outputs.size()) {
  for (const auto& wiring : what.wiring.links) {
    const std::string& id = what.site[wiring.link].id;
    if (std::holds_alternative<Mqtt>(wiring.where)) {
      brokers_.push_back({id, std::make_unique<MqttLink>(what.site, wiring, on_link(what.wiring.topics, wiring.link), clock,
                                                         sink, "riserkeep/" + what.site.id, to_engine)});
      continue;
    }
    auto coils = on_link(what.wiring.coils, wiring.link);
    for (const auto& coil : coils) bus_of_[coil.output.index] = buses_.size();
    buses_.push_back({id, std::make_unique<ModbusBus>(what.site, wiring, on_link(what.wiring.registers, wiring.link),
                                                      std::move(coils), clock, sink)});
  }
}

Devices::~Devices() {
  stop_buses();
  stop_brokers();
}

void Devices::start() {
  for (auto& bus : buses_) bus.bus->start();
  for (auto& broker : brokers_) broker.link->start();
}

void Devices::order(const OutputOrder& o) {
  if (stopped_) return;                    // every output is safe by now and stays so
  if (const auto bus = bus_of_[o.output.index]) buses_[*bus].bus->order(o);
}

void Devices::stop_buses() {
  if (std::exchange(stopped_, true)) return;
  std::vector<std::jthread> stopping;
  for (auto& bus : buses_) stopping.emplace_back([&bus] { bus.bus->stop(); });
}

void Devices::stop_brokers() {
  for (auto& broker : brokers_) broker.link->stop();
  brokers_.clear();
}

void Devices::publish(std::string_view topic, const std::string& payload, bool retained, int qos) {
  for (auto& broker : brokers_) broker.link->publish(topic, payload, retained, qos);
}

std::optional<std::chrono::steady_clock::time_point> Devices::slowest_progress() const {
  std::optional<std::chrono::steady_clock::time_point> slowest;
  for (const auto& bus : buses_) {
    const auto at = bus.bus->last_progress();
    slowest = slowest ? std::min(*slowest, at) : at;
  }
  return slowest;
}

std::vector<LinkNote> Devices::troubles() const {
  std::vector<LinkNote> notes;
  for (const auto& bus : buses_) {
    const BusHealth health = bus.bus->health();
    std::string trouble = health.trouble;
    for (const auto& device : health.devices)
      if (!device.trouble.empty()) trouble += (trouble.empty() ? "" : "; ") + device.trouble;
    for (const auto& point : health.disabled_points) trouble += (trouble.empty() ? "" : "; ") + point;
    notes.push_back({bus.id, std::move(trouble)});
  }
  for (const auto& broker : brokers_) notes.push_back({broker.id, broker.link->health().trouble});
  return notes;
}

}  // namespace riserkeep
