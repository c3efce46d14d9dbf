// How much the people are asked to bear: alarm rates, floods, stale and chattering points (ISA-18.2-2016
// clause 16, EEMUA 191; figures from memory, see docs/alarms.md). Counts alarms that people were told of;
// those that rest are counted apart. Bounded: hours, periods and days of the last seven days, one row a point.
#pragma once

#include <array>
#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <vector>

#include "rules/alarms/rest.h"
#include "rules/archive.h"

namespace riserkeep {

class AlarmBoard;

struct PointCount { AlarmPoint point; std::uint32_t raises = 0; };

struct AlarmFigures {
  Duration observed{};               // what the figures stand for, seven days at most
  std::uint32_t last_10_min = 0, peak_10_min = 0, last_hour = 0, last_24_h = 0, last_7_d = 0, rested_7_d = 0;
  double per_10_min = 0;             // mean over `observed`
  std::uint32_t hours_above_30 = 0, periods_above_10 = 0;  // of the last seven days
  bool flood = false;                // now: began above 10 in 10 min, not yet below 5
  Duration in_flood{};               // of the last seven days
  std::vector<AlarmPoint> stale;     // standing for more than 24 h
  std::vector<PointCount> chattering;  // three raises or more within a minute, in the last seven days
  std::vector<PointCount> top;       // ten at most, by raises in the last seven days
};

class AlarmStatistics {
 public:
  void raised(AlarmPoint, EngineTime at, bool told);
  void tick(EngineTime now);
  AlarmFigures figures(const AlarmBoard&, EngineTime now) const;
  template <class Moved>
  void moved(Moved where) {          // another site file
    std::map<AlarmPoint, Point> kept;
    for (auto& [p, row] : points_)
      if (const std::optional<PlaceId> now = where(p.place)) kept.emplace(AlarmPoint{p.alarm, *now}, row);
    points_ = std::move(kept);
  }
  void keep(Archive& a) { a(first_, minutes_, periods_, hours_, days_, points_, flood_, ticked_); }

 private:
  struct Bin {
    std::int64_t index = 0;          // whole minutes, periods of 10 min or hours of engine time
    std::uint32_t raises = 0;
    void keep(Archive& a) { a(index, raises); }
  };
  struct Day {
    std::int64_t index = 0;
    std::uint32_t peak = 0, rested = 0;
    Duration in_flood{};
    void keep(Archive& a) { a(index, peak, rested, in_flood); }
  };
  struct Point {
    std::array<std::uint32_t, 8> by_day{}, chatter{};  // of the day modulo 8
    std::int64_t day = 0;            // newest day counted
    std::deque<EngineTime> last;     // three at most
    void keep(Archive& a) { a(by_day, chatter, day, last); }
  };
  std::uint32_t last_ten_minutes(EngineTime now) const;
  Day& today(EngineTime now);
  static void advance(Point&, std::int64_t day);

  std::optional<EngineTime> first_, ticked_;
  std::deque<Bin> minutes_, periods_, hours_;
  std::deque<Day> days_;
  std::map<AlarmPoint, Point> points_;
  bool flood_ = false;
};

}  // namespace riserkeep
