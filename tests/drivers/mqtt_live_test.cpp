// The broker link against a real mosquitto: in, out, last will, and a broker that forgot everything.
#include <doctest/doctest.h>
#include <mqtt/async_client.h>

#include <cstdlib>

#include "bench.h"
#include "broker.h"
#include "drivers/mqtt/client.h"

using namespace riserkeep;
using namespace bench;
using namespace std::chrono_literals;

namespace {

// Somebody else on the same broker: publishes, and remembers what was said below the prefix.
class Other {
 public:
  explicit Other(const std::string& uri) : client_("tcp://" + uri.substr(7), "other") {
    client_.set_message_callback([this](mqtt::const_message_ptr m) {
      const std::scoped_lock lock(mutex_);
      newest_[m->get_topic()] = m->to_string();
      ++count_[m->get_topic()];
    });
  }
  bool connect() {
    return until(5s, [&] {
      try {
        if (!client_.connect(mqtt::connect_options_builder().clean_session(true).finalize())->wait_for(2s)) return false;
        return client_.subscribe("riserkeep/#", 1)->wait_for(2s);
      } catch (const mqtt::exception&) {
        return false;
      }
    });
  }
  void say(const std::string& topic, const std::string& payload, bool retained = false) {
    client_.publish(mqtt::make_message(topic, payload, 1, retained))->wait_for(2s);
  }
  std::string newest(const std::string& topic) const {
    const std::scoped_lock lock(mutex_);
    const auto it = newest_.find(topic);
    return it == newest_.end() ? "" : it->second;
  }
  int count(const std::string& topic) const {
    const std::scoped_lock lock(mutex_);
    const auto it = count_.find(topic);
    return it == count_.end() ? 0 : it->second;
  }

 private:
  mqtt::async_client client_;
  mutable std::mutex mutex_;
  std::map<std::string, std::string> newest_;
  std::map<std::string, int> count_;
};

TopicPoint topic(std::uint16_t channel, const std::string& name) {
  TopicPoint p;
  p.channel = ChannelId{channel};
  p.topic = name;
  return p;
}

LinkWiring wiring(const std::string& uri) {
  LinkWiring w;
  w.where = Mqtt{uri, "", "", ""};
  return w;
}

}  // namespace

TEST_CASE("Broker: readings in, state and events out, offline when leaving" * doctest::skip(!Broker::available())) {
  Broker broker(Peer::free_port());
  Other other(broker.uri());
  REQUIRE(other.connect());
  other.say("east/pressure", "39", true);   // retained before we come
  const Site s = site(2, 0, 1s);
  RealClock clock;
  Collector got;
  MqttLink link(s, wiring(broker.uri()), {topic(0, "east/pressure"), topic(1, "east/oxygen")}, clock, got.sink(), "riserkeep/t");
  CHECK(link.publish("systems/dock", "early", true, 1));   // before the first connection
  CHECK(link.publish("events", "first", false, 1));
  CHECK_FALSE(link.publish("a/+/b", "", false, 0));
  link.start();
  REQUIRE(until(5s, [&] { return link.health().up; }));
  CHECK(until(2s, [&] { return got.count([](const Reading& r) { return r.why == Why::retained; }) == 1; }));
  CHECK(got.good(ChannelId{0}) == 0);
  other.say("east/pressure", "40.5");
  other.say("east/oxygen", "2.125");
  CHECK(until(2s, [&] { return got.good(ChannelId{0}) == 1 && got.good(ChannelId{1}) == 1; }));
  CHECK(until(2s, [&] { return other.newest("riserkeep/t/systems/dock") == "early"; }));
  CHECK(until(2s, [&] { return other.newest("riserkeep/t/box") == "online"; }));
  CHECK(until(2s, [&] { return other.newest("riserkeep/t/events") == "first"; }));
  for (int i = 0; i < 500; ++i) link.publish("events", std::to_string(i), false, 1);
  CHECK(until(5s, [&] { return other.count("riserkeep/t/events") == 501; }));
  CHECK(other.newest("riserkeep/t/events") == "499");
  const auto from = std::chrono::steady_clock::now();
  link.stop();
  CHECK(std::chrono::steady_clock::now() - from < 4s);
  CHECK(until(2s, [&] { return other.newest("riserkeep/t/box") == "offline"; }));
}

TEST_CASE("Broker restarted without memory: data come again and retained states are said again" *
          doctest::skip(!Broker::available())) {
  Broker broker(Peer::free_port());
  REQUIRE(Other(broker.uri()).connect());   // it is there
  const Site s = site(1, 0, 1s);
  RealClock clock;
  Collector got;
  MqttLink link(s, wiring(broker.uri()), {topic(0, "east/pressure")}, clock, got.sink(), "riserkeep/t");
  link.start();
  link.publish("systems/dock", "state", true, 1);
  REQUIRE(until(5s, [&] { return link.health().up; }));
  for (int round = 1; round <= 2; ++round) {
    broker.end(SIGKILL);
    REQUIRE(until(5s, [&] { return !link.health().up; }));
    broker.start();
    Other other(broker.uri());
    REQUIRE(other.connect());
    REQUIRE(until(15s, [&] { return link.health().up; }));
    other.say("east/pressure", "41");
    CHECK(until(3s, [&] { return got.good(ChannelId{0}) == static_cast<std::size_t>(round); }));
    CHECK(until(3s, [&] { return other.newest("riserkeep/t/systems/dock") == "state"; }));
  }
  CHECK(got.links().size() == 5);    // up, then down and up for each round
  link.stop();
}

TEST_CASE("No broker: the link says down with a cure, and stopping is quick") {
  const Site s = site(1, 0, 1s);
  RealClock clock;
  Collector got;
  MqttLink link(s, wiring("mqtt://127.0.0.1:" + std::to_string(Peer::free_port())), {topic(0, "x")}, clock, got.sink(), "riserkeep/t");
  link.start();
  CHECK(until(5s, [&] { return got.links().size() == 1 && !got.links()[0].up; }));
  CHECK(link.health().trouble.find("check address") != std::string::npos);
  for (int i = 0; i < 20'000; ++i) link.publish("events", "e", false, 1);
  CHECK(link.health().waiting <= 10'001);
  CHECK(link.health().dropped >= 9'999);
  const auto from = std::chrono::steady_clock::now();
  link.stop();
  CHECK(std::chrono::steady_clock::now() - from < 4s);
}

// RFC 2818 and RFC 6125: a certificate is good for its own names only. paho's check of the name is off unless asked.
TEST_CASE("TLS: the right name connects, a wrong name and an unknown authority do not" *
          doctest::skip(!Broker::available() || access("/usr/bin/openssl", X_OK) != 0)) {
  const std::string at = "/tmp/riserkeep-tls-" + std::to_string(getpid());
  const auto make = [&](const std::string& name, const std::string& san) {
    return std::system(("openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=test -addext "
                        "subjectAltName=" + san + " -keyout " + at + name + ".key -out " + at + name + ".pem 2>/dev/null").c_str());
  };
  REQUIRE(make("right", "IP:127.0.0.1") == 0);
  REQUIRE(make("wrong", "DNS:elsewhere.example") == 0);
  struct Row { std::string served, trusted; bool good; };
  for (const Row& row : {Row{"right", "right", true}, Row{"wrong", "wrong", false}, Row{"right", "wrong", false}}) {
    CAPTURE(row.served);
    CAPTURE(row.trusted);
    const int port = Peer::free_port();
    Broker broker(port, at + row.served + ".pem", at + row.served + ".key");
    std::this_thread::sleep_for(300ms);
    LinkWiring w;
    w.where = Mqtt{"mqtts://127.0.0.1:" + std::to_string(port), "", "", at + row.trusted + ".pem"};
    const Site s = site(1, 0, 1s);
    RealClock clock;
    Collector got;
    MqttLink link(s, w, {topic(0, "x")}, clock, got.sink(), "riserkeep/t");
    link.start();
    const bool up = until(row.good ? 8s : 3s, [&] { return link.health().up; });
    CHECK(up == row.good);
    if (!row.good) CHECK(link.health().trouble.find("certificate is for this very name") != std::string::npos);
    link.stop();
  }
  for (const char* file : {"right.key", "right.pem", "wrong.key", "wrong.pem"}) unlink((at + file).c_str());
}
