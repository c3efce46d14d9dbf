#include "drivers/modbus/books.h"

#include <algorithm>
#include <utility>

namespace riserkeep {

BusBooks::BusBooks(const std::vector<int>& units) {
  for (const int unit : units) devices_.try_emplace(unit);
}

void BusBooks::link(bool up, std::string trouble) {
  const std::scoped_lock lock(mutex_);
  totals_.up = up;
  totals_.trouble = std::move(trouble);
}

void BusBooks::connected() {
  const std::scoped_lock lock(mutex_);
  ++totals_.connects;
}

void BusBooks::replied(int unit, std::chrono::microseconds took) {
  const std::scoped_lock lock(mutex_);
  Device& d = devices_[unit];
  ++totals_.requests;
  ++d.requests;
  d.answering = true;
  d.trouble.clear();
  d.took[d.replies++ % d.took.size()] = took;
}

void BusBooks::failed(int unit, std::string trouble) {
  const std::scoped_lock lock(mutex_);
  Device& d = devices_[unit];
  ++totals_.requests;
  ++totals_.failures;
  ++d.requests;
  ++d.failures;
  d.answering = false;
  d.trouble = std::move(trouble);
}

void BusBooks::note(int unit, std::string trouble) {
  const std::scoped_lock lock(mutex_);
  devices_[unit].note = std::move(trouble);
}

void BusBooks::resync() {
  const std::scoped_lock lock(mutex_);
  ++totals_.resyncs;
}

void BusBooks::missed(int polls) {
  const std::scoped_lock lock(mutex_);
  totals_.polls_missed += static_cast<std::uint64_t>(polls);
}

void BusBooks::disabled(const std::string& point, std::string why) {
  const std::scoped_lock lock(mutex_);
  disabled_[point] = std::move(why);
}

void BusBooks::enabled(const std::string& point) {
  const std::scoped_lock lock(mutex_);
  disabled_.erase(point);
}

DeviceHealth BusBooks::describe(int unit, const Device& d) const {
  DeviceHealth h;
  h.unit = unit;
  h.answering = d.answering;
  h.requests = d.requests;
  h.failures = d.failures;
  h.trouble = d.trouble.empty() ? d.note : d.trouble;
  const std::size_t count = std::min(d.replies, d.took.size());
  if (count == 0) return h;
  std::vector<std::chrono::microseconds> sorted(d.took.begin(), d.took.begin() + static_cast<std::ptrdiff_t>(count));
  std::ranges::sort(sorted);
  const auto at = [&](std::size_t percent) {
    return std::chrono::duration_cast<std::chrono::milliseconds>(sorted[(count - 1) * percent / 100]);
  };
  h.reply_min = at(0);
  h.reply_median = at(50);
  h.reply_p99 = at(99);
  return h;
}

BusHealth BusBooks::health() const {
  const std::scoped_lock lock(mutex_);
  BusHealth h = totals_;
  for (const auto& [unit, d] : devices_) h.devices.push_back(describe(unit, d));
  for (const auto& [point, why] : disabled_) h.disabled_points.push_back(point + ": " + why);
  return h;
}

}  // namespace riserkeep
