#include "rules/alarms/statistics.h"

#include <algorithm>
#include <numeric>

#include "rules/alarms/board.h"

namespace riserkeep {
namespace {

// ISA-18.2-2016 / EEMUA 191, from memory.
constexpr std::uint32_t kFloodBegins = 10, kFloodEnds = 5, kBusyHour = 30;
constexpr Duration kChatterWithin = minutes(1), kStaleAfter = hours(24);
constexpr std::size_t kChatterRaises = 3, kTop = 10;
constexpr std::int64_t kDays = 7;

std::int64_t whole(EngineTime t, Duration unit) { return t.time_since_epoch() / unit; }

template <class Bins>
void count(Bins& bins, std::int64_t index, std::int64_t keep) {
  if (bins.empty() || bins.back().index != index) bins.push_back({index, 0});
  ++bins.back().raises;
  while (bins.front().index <= index - keep) bins.pop_front();
}

template <class Bins>
std::uint32_t sum_after(const Bins& bins, std::int64_t after) {
  std::uint32_t n = 0;
  for (const auto& b : bins)
    if (b.index > after) n += b.raises;
  return n;
}

template <class Bins>
std::uint32_t above(const Bins& bins, std::int64_t after, std::uint32_t limit) {
  return static_cast<std::uint32_t>(std::ranges::count_if(bins, [&](const auto& b) { return b.index > after && b.raises > limit; }));
}

std::uint32_t sum_of(const std::array<std::uint32_t, 8>& by_day, std::int64_t newest, std::int64_t today) {
  std::uint32_t n = 0;
  for (std::int64_t d = std::max(newest - 7, today - kDays + 1); d <= newest; ++d)
    if (d >= 0) n += by_day[static_cast<std::size_t>(d % 8)];
  return n;
}

void most_first(std::vector<PointCount>& list) {
  std::ranges::stable_sort(list, [](const PointCount& a, const PointCount& b) { return a.raises > b.raises; });
}

}  // namespace

std::uint32_t AlarmStatistics::last_ten_minutes(EngineTime now) const { return sum_after(minutes_, whole(now, minutes(1)) - 10); }

AlarmStatistics::Day& AlarmStatistics::today(EngineTime now) {
  const std::int64_t index = whole(now, hours(24));
  if (days_.empty() || days_.back().index != index) days_.push_back({index, 0, 0, {}});
  while (days_.front().index <= index - kDays) days_.pop_front();
  return days_.back();
}

void AlarmStatistics::advance(Point& p, std::int64_t day) {
  for (std::int64_t d = std::max(p.day + 1, day - 7); d <= day; ++d) p.by_day[static_cast<std::size_t>(d % 8)] = p.chatter[static_cast<std::size_t>(d % 8)] = 0;
  p.day = std::max(p.day, day);
}

void AlarmStatistics::raised(AlarmPoint point, EngineTime at, bool told) {
  if (!told) {
    ++today(at).rested;
    return;
  }
  count(minutes_, whole(at, minutes(1)), 11);
  count(periods_, whole(at, minutes(10)), kDays * 144 + 1);
  count(hours_, whole(at, hours(1)), kDays * 24 + 1);
  Day& day = today(at);
  day.peak = std::max(day.peak, last_ten_minutes(at));
  Point& p = points_[point];
  advance(p, day.index);
  const auto slot = static_cast<std::size_t>(day.index % 8);
  ++p.by_day[slot];
  p.last.push_back(at);
  if (p.last.size() > kChatterRaises) p.last.pop_front();
  if (p.last.size() == kChatterRaises && at - p.last.front() <= kChatterWithin) ++p.chatter[slot];
}

void AlarmStatistics::tick(EngineTime now) {
  if (!first_) first_ = now;
  if (!minutes_.empty() || flood_) {
    const std::uint32_t n = last_ten_minutes(now);
    flood_ = flood_ ? n >= kFloodEnds : n > kFloodBegins;
    if (flood_ && ticked_) today(now).in_flood += std::min(now - *ticked_, Duration{seconds(1)});
    if (n == 0) minutes_.clear();
  }
  ticked_ = now;
  if (now.time_since_epoch() % hours(1) != Duration{}) return;
  const std::int64_t day = whole(now, hours(24));
  std::erase_if(points_, [&](const auto& p) { return p.second.day <= day - kDays; });
}

AlarmFigures AlarmStatistics::figures(const AlarmBoard& board, EngineTime now) const {
  AlarmFigures f;
  const std::int64_t period = whole(now, minutes(10)), hour = whole(now, hours(1)), day = whole(now, hours(24));
  f.observed = first_ ? std::min(now - *first_, Duration{days(kDays)}) : Duration{};
  f.last_10_min = last_ten_minutes(now);
  f.last_hour = sum_after(periods_, period - 6);
  f.last_24_h = sum_after(periods_, period - 144);
  f.last_7_d = sum_after(periods_, period - kDays * 144);
  f.per_10_min = f.last_7_d / std::max(1.0, in_hours(f.observed) * 6);
  f.hours_above_30 = above(hours_, hour - kDays * 24, kBusyHour);
  f.periods_above_10 = above(periods_, period - kDays * 144, kFloodBegins);
  f.flood = flood_;
  for (const Day& d : days_) {
    if (d.index <= day - kDays) continue;
    f.peak_10_min = std::max(f.peak_10_min, d.peak);
    f.rested_7_d += d.rested;
    f.in_flood += d.in_flood;
  }
  for (const auto& item : board.open())
    if (item.life->standing() && now - item.life->since() > kStaleAfter) f.stale.push_back({item.alarm, item.place});
  for (const auto& [point, row] : points_) {
    if (const auto n = sum_of(row.by_day, row.day, day)) f.top.push_back({point, n});
    if (const auto n = sum_of(row.chatter, row.day, day)) f.chattering.push_back({point, n});
  }
  most_first(f.top);
  most_first(f.chattering);
  if (f.top.size() > kTop) f.top.resize(kTop);
  return f;
}

}  // namespace riserkeep
