#include "drivers/mqtt/client.h"

#include <fmt/format.h>
#include <mqtt/async_client.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <set>
#include <utility>

#include "drivers/mqtt/options.h"
#include "drivers/mqtt/worker.h"

namespace riserkeep {
namespace {

using std::chrono::steady_clock;
constexpr std::chrono::seconds kConnect{3}, kAnswer{3}, kLastWord{1};
constexpr std::size_t kInFlight = 64, kMostArrived = 100'000;

// paho ends its log when its last client goes and a thread of its own may still write to it: 125 kB lost at a
// reconnect, about one in three. One client that is never connected and never destroyed keeps it alive.
void keep_paho_alive() {
  static mqtt::async_client* volatile forever = new mqtt::async_client("tcp://localhost:1883", "riserkeep-idle");
  static_cast<void>(forever);
}

}  // namespace

struct MqttLink::Worker::Session {
  mqtt::async_client client;
  std::deque<mqtt::delivery_token_ptr> under_way;
  Session(const std::string& uri, const std::string& id) : client(uri, id) {}
};

MqttLink::Worker::Worker(const Site& site, const LinkWiring& wiring, std::vector<TopicPoint> points, const Clock& clock,
                         Sink sink, std::string prefix, ToEngineTime to_engine)
    : site_(site), wiring_(wiring), where_(std::get<Mqtt>(wiring.where)), points_(std::move(points)), clock_(clock),
      sink_(std::move(sink)), prefix_(std::move(prefix)),
      client_id_(broker_client_id(prefix_, site.links.at(wiring.link.index).id)), to_engine_(std::move(to_engine)),
      backoff_(seconds(1), seconds(60), wiring.link.index + 1u) {}

MqttLink::Worker::~Worker() { stop(); }

void MqttLink::Worker::start() {
  if (!thread_.joinable()) thread_ = std::jthread([this] { run(); });
}

void MqttLink::Worker::stop() {
  stop_ = true;
  wake_.ring();
  if (thread_.joinable()) thread_.join();
}

bool MqttLink::Worker::publish(std::string_view topic, std::string payload, bool retained, int qos) {
  if (topic.empty() || topic.find_first_of(std::string_view("+#\0", 3)) != std::string_view::npos) return false;
  bool kept = false;
  {
    const std::scoped_lock lock(mutex_);
    kept = out_.push({fmt::format("{}/{}", prefix_, topic), std::move(payload), retained, std::clamp(qos, 0, 2)});
  }
  wake_.ring();
  return kept;
}

MqttHealth MqttLink::Worker::health() const {
  const std::scoped_lock lock(mutex_);
  MqttHealth h = health_;
  h.up = link_up_;
  h.waiting = out_.waiting();
  h.dropped += out_.dropped();
  return h;
}

void MqttLink::Worker::trouble(std::string text) {
  const std::scoped_lock lock(mutex_);
  health_.trouble = std::move(text);
}

void MqttLink::Worker::told(LinkState::Said said, const std::string& why) {
  if (said == LinkState::Said::nothing) return;
  const bool up = said == LinkState::Said::up;
  link_up_ = up;
  const std::string& id = site_.links.at(wiring_.link.index).id;
  if (up) spdlog::info("{}: up", id);
  if (!up) spdlog::warn("{}: down: {}", id, why);
  sink_(LinkChanged{wiring_.link, up});
}

void MqttLink::Worker::run() {
  block_signals();
  name_thread("broker");
  keep_paho_alive();
  while (!stop_) {
    const SteadyTime now = steady_clock::now();
    if (dropped_by_broker_.exchange(false) && session_) lost("the broker closed the connection");
    if (session_ && !session_->client.is_connected()) lost("connection lost");
    if (!session_ && backoff_.due(now)) connect();
    // A session that broke at once earned nothing; one that lasted did.
    if (session_ && backoff_.failures() > 0 && now - connected_at_ > seconds(30)) backoff_.succeeded();
    take_arrived();
    if (session_) send_waiting();
    if (!stop_) wake_.wait(idle_time(steady_clock::now()));
  }
  take_arrived();
  say_offline();
}

std::chrono::milliseconds MqttLink::Worker::idle_time(SteadyTime now) const {
  if (!session_) return std::max(std::chrono::ceil<milliseconds>(backoff_.next() - now), Duration{1});
  return session_->under_way.size() >= kInFlight ? Duration{20} : Duration{1000};
}

// paho's thread.
void MqttLink::Worker::arrived(std::string topic, std::string payload, bool retained) {
  {
    const std::scoped_lock lock(mutex_);
    if (arrived_.size() >= kMostArrived) {
      arrived_.pop_front();
      ++health_.dropped;
    }
    arrived_.push_back({std::move(topic), std::move(payload), retained, clock_.now()});
    ++health_.received;
  }
  wake_.ring();
}

// A new client each time: one that failed to connect may still be trying.
std::optional<std::string> MqttLink::Worker::dial() {
  try {
    auto fresh = std::make_unique<Session>(broker_uri(where_.uri), client_id_);
    fresh->client.set_connection_lost_handler([this](const std::string&) {
      dropped_by_broker_ = true;
      wake_.ring();
    });
    fresh->client.set_message_callback([this](mqtt::const_message_ptr m) {
      if (m) arrived(m->get_topic(), m->to_string(), m->is_retained());
    });
    const auto token = fresh->client.connect(broker_options(where_, kConnect, prefix_ + "/box"));
    if (!token->wait_for(kConnect + seconds(1))) return "no answer from the broker";
    session_ = std::move(fresh);
    return std::nullopt;
  } catch (const mqtt::exception& e) {
    return fmt::format("{} ({})", e.what(), e.get_return_code());
  }
}

void MqttLink::Worker::connect() {
  if (const auto trouble_met = dial()) {
    backoff_.failed(steady_clock::now());
    const std::string why = fmt::format("{}: {}; check address, user, password{}", where_.uri, *trouble_met,
                                        broker_by_tls(where_.uri) ? ", and that the certificate is for this very name and signed by the authority named" : "");
    trouble(why);
    return told(link_.silent(), why);
  }
  dropped_by_broker_ = false;
  connected_at_ = steady_clock::now();
  backoff_.failed(connected_at_);    // until it has lasted: two boxes with one name must not fight without pause
  if (!subscribe()) return;
  {
    const std::scoped_lock lock(mutex_);
    ++health_.connects;
    if (!out_.has_retained(prefix_ + "/box")) out_.push({prefix_ + "/box", "online", true, 1});
    out_.say_retained_again();
  }
  told(link_.replied(), "");
}

// At every connect, from our own thread: a broker that lost its sessions keeps us connected, and deaf.
bool MqttLink::Worker::subscribe() {
  std::set<std::string> topics, denied;
  for (const TopicPoint& p : points_) topics.insert(p.topic);
  try {
    for (const std::string& topic : topics) {
      auto token = session_->client.subscribe(topic, 1);
      if (!token->wait_for(kAnswer)) {
        lost("no answer to a subscription");
        return false;
      }
      const auto codes = token->get_subscribe_response().get_reason_codes();
      if (codes.empty() || static_cast<int>(codes.front()) >= 0x80) denied.insert(topic);
    }
  } catch (const mqtt::exception& e) {
    lost(e.what());
    return false;
  }
  trouble(denied.empty() ? "" : fmt::format("the broker denies the topic {}: check its access list", fmt::join(denied, ", ")));
  return true;
}

void MqttLink::Worker::lost(const std::string& why) {
  {
    const std::scoped_lock lock(mutex_);
    for (const auto& token : session_->under_way) {
      const auto m = token->get_message();
      if (m && !token->is_complete()) out_.put_back({m->get_topic(), m->to_string(), m->is_retained(), m->get_qos()});
    }
  }
  session_.reset();
  if (backoff_.due(steady_clock::now())) backoff_.failed(steady_clock::now());
  trouble(fmt::format("{}: {}; if it repeats, look for a second client named {}", where_.uri, why, client_id_));
  told(link_.silent(), why);
}

void MqttLink::Worker::take_arrived() {
  std::deque<Arrived> arrived;
  {
    const std::scoped_lock lock(mutex_);
    arrived.swap(arrived_);
  }
  for (const Arrived& message : arrived) {
    for (const TopicPoint& p : points_) {
      if (p.topic == message.topic) sink_(read_payload(p, site_[p.channel].signal, message, to_engine_));
    }
  }
}

void MqttLink::Worker::send_waiting() {
  auto& under_way = session_->under_way;
  while (true) {
    while (!under_way.empty() && under_way.front()->is_complete()) under_way.pop_front();
    if (under_way.size() >= kInFlight) return;
    std::optional<Outgoing> next;
    {
      const std::scoped_lock lock(mutex_);
      next = out_.pop();
      if (next) ++health_.published;
    }
    if (!next) return;
    try {
      under_way.push_back(session_->client.publish(mqtt::make_message(next->topic, next->payload, next->qos, next->retained)));
    } catch (const mqtt::exception& e) {
      const std::scoped_lock lock(mutex_);
      out_.put_back(std::move(*next));
      --health_.published;
      return;                        // is_connected() tells at the next turn
    }
  }
}

void MqttLink::Worker::say_offline() {
  if (!session_) return;
  try {
    if (session_->client.is_connected()) {
      session_->client.publish(mqtt::make_message(prefix_ + "/box", "offline", 1, true))->wait_for(kLastWord);
      session_->client.disconnect(500)->wait_for(kLastWord);
    }
  } catch (const mqtt::exception& e) {
    spdlog::debug("broker: {}", e.what());   // leaving anyway; the last will speaks for us
  }
  session_.reset();
}

MqttLink::MqttLink(const Site& site, const LinkWiring& wiring, std::vector<TopicPoint> points, const Clock& clock,
                   Sink sink, std::string site_topic_prefix, ToEngineTime to_engine)
    : worker_(std::make_unique<Worker>(site, wiring, std::move(points), clock, std::move(sink),
                                       std::move(site_topic_prefix), std::move(to_engine))) {}
MqttLink::~MqttLink() = default;
void MqttLink::start() { worker_->start(); }
void MqttLink::stop() { worker_->stop(); }
bool MqttLink::publish(std::string_view topic, std::string payload, bool retained, int qos) {
  return worker_->publish(topic, std::move(payload), retained, qos);
}
MqttHealth MqttLink::health() const { return worker_->health(); }

}  // namespace riserkeep
