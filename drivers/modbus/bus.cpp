#include "drivers/modbus/bus.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <set>
#include <utility>

#include "drivers/modbus/worker.h"

namespace riserkeep {
namespace {

using std::chrono::steady_clock;

std::vector<int> units_of(const std::vector<RegisterPoint>& points, const std::vector<CoilOutput>& coils) {
  std::set<int> units;
  for (const auto& p : points) units.insert(p.unit);
  for (const auto& c : coils) units.insert(c.unit);
  return {units.begin(), units.end()};
}

std::vector<Duration> polls_of(const Site& site, const std::vector<RegisterPoint>& points) {
  std::vector<Duration> polls;
  for (const auto& p : points) polls.push_back(std::max(site.channels.at(p.channel.index).poll, Duration{10}));
  return polls;
}

}  // namespace

ModbusBus::Worker::Worker(const Site& site, const LinkWiring& wiring, std::vector<RegisterPoint> points,
                          std::vector<CoilOutput> coils, const Clock& clock, Sink sink)
    : site_(site), wiring_(wiring), points_(std::move(points)), clock_(clock), sink_(std::move(sink)), wire_(wiring),
      link_backoff_(seconds(1), seconds(60), wiring.link.index + 1u), groups_(group_points(points_, polls_of(site, points_))),
      desk_(site, coils), books_(units_of(points_, coils)) {
  for (const int unit : units_of(points_, coils)) {
    devices_.push_back({unit, Backoff(milliseconds(500), seconds(60), static_cast<std::uint32_t>(unit)),
                        Resync({}, {}, 0), 0, {}});
    build_resync(devices_.back());
  }
}

ModbusBus::Worker::~Worker() { stop(); }

void ModbusBus::Worker::start() {
  if (thread_.joinable()) return;
  progress();
  thread_ = std::jthread([this] { run(); });
}

void ModbusBus::Worker::stop() {
  stop_ = true;
  wake_.ring();
  if (thread_.joinable()) thread_.join();
}

void ModbusBus::Worker::order(const OutputOrder& o) {
  if (!std::ranges::any_of(desk_.all(), [&](const BusOutput& b) { return b.wiring.output == o.output; })) return;
  {
    const std::scoped_lock lock(orders_mutex_);
    orders_.push_back(o);
  }
  wake_.ring();
}

void ModbusBus::Worker::progress() { progress_ = steady_clock::now().time_since_epoch().count(); }

BusDevice& ModbusBus::Worker::device(int unit) {
  return *std::ranges::find(devices_, unit, &BusDevice::unit);
}

void ModbusBus::Worker::run() {
  block_signals();
  name_thread(("bus " + site_.links.at(wiring_.link.index).id).substr(0, 15).c_str());
  const SteadyTime now = steady_clock::now();
  for (PollGroup& g : groups_) g.due = now;
  for (BusOutput& o : desk_.all()) o.lease.make_safe();
  while (!stop_) {
    progress();
    take_orders();
    desk_.enforce(clock_.now(), steady_clock::now());
    const bool busy = work();
    publish_observed();
    if (!busy && !stop_) wake_.wait(idle_time(steady_clock::now()));
  }
  make_everything_safe();
  publish_observed();
  wire_.close();
}

void ModbusBus::Worker::take_orders() {
  std::vector<OutputOrder> orders;
  {
    const std::scoped_lock lock(orders_mutex_);
    orders.swap(orders_);
  }
  const EngineTime now = clock_.now();
  for (const OutputOrder& o : orders) desk_.order(o, now);
}

// One bus call at most. False: nothing to do for now.
bool ModbusBus::Worker::work() {
  const SteadyTime now = steady_clock::now();
  publish_silent(now);
  if (!wire_.connected()) {
    if (!link_backoff_.due(now)) return false;
    connect();
    return true;
  }
  if (BusOutput* o = desk_.next(now, [&](int unit) { return device(unit).reachable(now); })) {
    work_for(*o);
    return true;
  }
  for (BusDevice& d : devices_) {
    if (d.time_outs_to_write.empty() || !d.reachable(now)) continue;
    write_time_outs(d);
    return true;
  }
  if (PollGroup* g = next_group(now)) {
    poll(*g);
    return true;
  }
  return false;
}

std::chrono::milliseconds ModbusBus::Worker::idle_time(SteadyTime now) const {
  SteadyTime until = now + seconds(1);   // also the heartbeat of last_progress()
  const auto sooner = [&](SteadyTime t) { if (t > now) until = std::min(until, t); };
  if (!wire_.connected()) sooner(link_backoff_.next());
  for (const PollGroup& g : groups_) sooner(g.due);
  for (const BusDevice& d : devices_) sooner(d.backoff.next());
  if (const auto t = desk_.next_retry(now)) sooner(*t);
  if (const auto deadline = desk_.next_deadline()) sooner(now + std::max(*deadline - clock_.now(), Duration{1}));
  return std::chrono::ceil<milliseconds>(until - now);
}

void ModbusBus::Worker::connect() {
  if (auto trouble = wire_.connect()) {
    link_backoff_.failed(steady_clock::now());
    return link_down(*trouble);
  }
  books_.connected();
  earned_ = false;
  for (BusDevice& d : devices_) {
    if (wire_.serial()) d.resync.lost();   // an answer to whoever spoke before us may be under way
    d.time_outs_to_write.clear();
    for (const BusOutput* o : desk_.of_unit(d.unit)) {
      if (o->wiring.device_time_out) d.time_outs_to_write.push_back(*o->wiring.device_time_out);
    }
  }
  for (BusOutput& o : desk_.all()) link_.up() ? o.lease.check() : o.lease.make_safe();
}

Answer ModbusBus::Worker::call(BusDevice& d, const std::function<Answer()>& bus_call) {
  const SteadyTime sent = steady_clock::now();
  Answer answer = bus_call();
  progress();
  const bool behind_gateway = answer.exception == 10 || answer.exception == 11;
  if (answer.trouble == Trouble::none || (answer.trouble == Trouble::refused && !behind_gateway)) {
    books_.replied(d.unit, std::chrono::duration_cast<std::chrono::microseconds>(steady_clock::now() - sent));
    replied(d);
  } else {
    failed(d, answer);
  }
  return answer;
}

void ModbusBus::Worker::replied(BusDevice& d) {
  earned_ = true;
  link_backoff_.succeeded();
  if (d.dead()) {
    spdlog::info("{}: unit {} answers again", site_.links.at(wiring_.link.index).id, d.unit);
    for (BusOutput* o : desk_.of_unit(d.unit)) {
      o->lease.make_safe();
      if (o->wiring.device_time_out) d.time_outs_to_write.push_back(*o->wiring.device_time_out);
    }
    for (PollGroup& g : groups_) {
      if (g.unit == d.unit) g.due = std::min(g.due, steady_clock::now());
    }
  }
  d.failures = 0;
  d.backoff.succeeded();
  if (link_.replied() != LinkState::Said::up) return;
  books_.link(true, "");
  spdlog::info("{}: up", site_.links.at(wiring_.link.index).id);
  sink_(LinkChanged{wiring_.link, true});
}

void ModbusBus::Worker::failed(BusDevice& d, const Answer& answer) {
  const SteadyTime now = steady_clock::now();
  books_.failed(d.unit, answer.text);
  if (answer.trouble != Trouble::broken) {
    d.failures = std::min(d.failures + 1, 1000);
    if (d.dead()) d.backoff.failed(now);
    if (d.failures == 3) {
      spdlog::warn("{}: unit {}: {}", site_.links.at(wiring_.link.index).id, d.unit, answer.text);
      for (BusOutput* o : desk_.of_unit(d.unit)) o->lease.lost_sight();
    }
  }
  const bool any_alive = std::ranges::any_of(devices_, [](const BusDevice& other) { return !other.dead(); });
  if (answer.trouble == Trouble::broken) return close_link(earned_, answer.text);
  if (answer.trouble == Trouble::lost && wire_.serial()) {
    wire_.discard_input();
    for (BusDevice& each : devices_) each.resync.lost();
  } else if (answer.trouble == Trouble::lost) {
    // A device known to be dead behind a gateway must not slow the others down.
    close_link(earned_ || (d.dead() && any_alive), answer.text);
  }
  if (!any_alive) link_down(fmt::format("unit {}: {}", d.unit, answer.text));
}

void ModbusBus::Worker::close_link(bool earned, const std::string& why) {
  wire_.close();
  if (earned) return;
  link_backoff_.failed(steady_clock::now());
  if (link_backoff_.failures() >= 2) link_down(why);
}

void ModbusBus::Worker::link_down(const std::string& why) {
  books_.link(false, why);
  if (link_.silent() != LinkState::Said::down) return;
  spdlog::warn("{}: down: {}", site_.links.at(wiring_.link.index).id, why);
  sink_(LinkChanged{wiring_.link, false});
  const SteadyTime now = steady_clock::now();
  for (PollGroup& g : groups_) g.due = std::min(g.due, now);
  for (BusOutput& o : desk_.all()) o.lease.lost_sight();
}

void ModbusBus::Worker::make_everything_safe() {
  const auto outputs = desk_.all();
  if (outputs.empty()) return;
  std::set<int> units;
  for (const BusOutput& o : outputs) units.insert(o.wiring.unit);
  const SteadyTime until = steady_clock::now() + units.size() * (2 * wiring_.time_out + seconds(1));
  for (BusOutput& o : outputs) o.lease.make_safe_blind();
  for (int round = 0; round < 3; ++round) {
    for (BusOutput& o : outputs) {
      while (o.lease.next() && steady_clock::now() < until) {
        if (!wire_.connected() && wire_.connect()) break;
        const bool was_write = o.lease.next() == BusCall::write_safe;
        work_for(o);
        if (!was_write && o.lease.next()) break;   // looked, and not safe yet: the others first
      }
    }
  }
}

void ModbusBus::Worker::publish_observed() {
  for (const OutputObserved& seen : desk_.take_observed()) sink_(seen);
}

ModbusBus::ModbusBus(const Site& site, const LinkWiring& wiring, std::vector<RegisterPoint> points,
                     std::vector<CoilOutput> coils, const Clock& clock, Sink sink)
    : worker_(std::make_unique<Worker>(site, wiring, std::move(points), std::move(coils), clock, std::move(sink))) {}
ModbusBus::~ModbusBus() = default;
void ModbusBus::start() { worker_->start(); }
void ModbusBus::order(const OutputOrder& o) { worker_->order(o); }
void ModbusBus::stop() { worker_->stop(); }
steady_clock::time_point ModbusBus::last_progress() const { return worker_->last_progress(); }
BusHealth ModbusBus::health() const { return worker_->health(); }

}  // namespace riserkeep
