// The broker thread. paho's threads only push into `arrived_` and ring; every call of paho is made here.
#pragma once

#include <atomic>
#include <deque>
#include <mutex>
#include <thread>

#include "drivers/link.h"
#include "drivers/mqtt/client.h"
#include "drivers/mqtt/output.h"
#include "drivers/mqtt/source.h"
#include "drivers/wake.h"

namespace riserkeep {

class MqttLink::Worker {
 public:
  Worker(const Site&, const LinkWiring&, std::vector<TopicPoint>, const Clock&, Sink, std::string prefix, ToEngineTime);
  ~Worker();
  void start();
  void stop();
  bool publish(std::string_view topic, std::string payload, bool retained, int qos);
  MqttHealth health() const;

 private:
  struct Session;                    // paho's client with its callbacks and the messages under way
  void run();
  void connect();
  std::optional<std::string> dial();
  void arrived(std::string topic, std::string payload, bool retained);
  bool subscribe();
  void lost(const std::string& why);
  void take_arrived();
  void send_waiting();
  void say_offline();
  void trouble(std::string text);
  void told(LinkState::Said said, const std::string& why);
  std::chrono::milliseconds idle_time(SteadyTime now) const;

  const Site& site_;
  LinkWiring wiring_;
  Mqtt where_;
  std::vector<TopicPoint> points_;
  const Clock& clock_;
  Sink sink_;
  std::string prefix_, client_id_;
  ToEngineTime to_engine_;

  std::unique_ptr<Session> session_;
  LinkState link_;
  Backoff backoff_;
  SteadyTime connected_at_{};

  mutable std::mutex mutex_;         // guards what follows
  MqttHealth health_;
  OutgoingQueue out_;
  std::deque<Arrived> arrived_;

  Wake wake_;
  std::atomic<bool> stop_{false};
  std::atomic<bool> dropped_by_broker_{false}, link_up_{false};
  std::jthread thread_;
};

}  // namespace riserkeep
