#include "daemon/formats/rfc3339.h"

#include <algorithm>

namespace riserkeep {
namespace {

constexpr std::int64_t kFirstMs = -62'167'219'200'000;  // 0000-01-01T00:00:00Z
constexpr std::int64_t kLastMs = 253'402'300'799'999;   // 9999-12-31T23:59:59.999Z

}  // namespace

std::string rfc3339(WallTime t) { return format_rfc3339(WallTime{std::clamp(t.ms, kFirstMs, kLastMs)}); }

}  // namespace riserkeep
