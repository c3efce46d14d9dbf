#include "daemon/formats/local_time.h"

#include <date/tz.h>

namespace riserkeep {
namespace {

const date::time_zone* zone_or_null(const std::string& zone) {
  try {
    return date::locate_zone(zone);
  } catch (const std::exception&) {
    return nullptr;
  }
}

std::string format(const char* pattern, const std::string& zone, WallTime t) {
  const auto at = date::sys_time<std::chrono::milliseconds>{std::chrono::milliseconds{t.ms}};
  const auto second = std::chrono::floor<std::chrono::seconds>(at);
  const date::time_zone* z = zone_or_null(zone);
  return date::format(pattern, date::make_zoned(z ? z : date::locate_zone("Etc/UTC"), second));
}

}  // namespace

std::string local_stamp(const std::string& zone, WallTime t) { return format("%a %d %b %Y %H:%M:%S %Z", zone, t); }
std::string local_minute(const std::string& zone, WallTime t) { return format("%a %d %b %H:%M", zone, t); }

WallTime next_local_minute(const std::string& zone, WallTime now, int minute) {
  const date::time_zone* found = zone_or_null(zone);
  const date::time_zone* z = found ? found : date::locate_zone("Etc/UTC");
  const auto at = date::sys_time<std::chrono::milliseconds>{std::chrono::milliseconds{now.ms}};
  const auto today = date::floor<date::days>(z->to_local(at));
  for (int ahead = 0;; ++ahead) {
    const auto local = today + date::days{ahead} + std::chrono::minutes{minute};
    const auto there = z->to_sys(std::chrono::time_point_cast<std::chrono::milliseconds>(local), date::choose::latest);
    if (there > at) return WallTime{there.time_since_epoch().count()};
  }
}

bool zone_exists(const std::string& zone) { return zone_or_null(zone) != nullptr; }

}  // namespace riserkeep
