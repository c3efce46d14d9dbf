// Recorded telemetry, CSV: what `replay` reads and `export telemetry` writes. docs/formats/telemetry.md.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "rules/input.h"
#include "rules/site.h"

namespace riserkeep {

inline constexpr std::string_view kTelemetryHeader = "time,point,signal,value,quality";

// A reading's `measured` is the row's wall time in milliseconds taken as engine time (a telemetry replay's
// engine runs on that axis, so its wall offset is 0).
struct TelemetryRow {
  WallTime time;
  std::variant<Reading, OutputObserved> what;
};

// Streams of any length in constant memory; rows come out in time order (disorder inside one second is sorted).
// A row of an unknown point or signal is left out and noted once. Anything else that is wrong ends the
// reading: next() gives nothing more and error() says where, what and how to mend it.
class TelemetryReader {
 public:
  using Source = std::function<std::size_t(char* into, std::size_t room)>;  // bytes read; 0 = end

  TelemetryReader(Source source, const Site& site, std::string name = "telemetry");
  ~TelemetryReader();
  TelemetryReader(const TelemetryReader&) = delete;
  TelemetryReader& operator=(const TelemetryReader&) = delete;

  std::optional<TelemetryRow> next();
  const std::optional<std::string>& error() const;
  const std::vector<std::string>& notes() const;  // at most 100
  std::uint64_t lines() const;                    // read so far, the header included

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

// Reads a file descriptor that stays the caller's; a read error counts as the end.
TelemetryReader::Source source_of_fd(int fd);

std::string telemetry_row(WallTime, std::string_view point, std::string_view signal, int decimals,
                          std::optional<std::int64_t> ticks, Quality);
std::string telemetry_row(const Site&, WallTime, const Reading&);

// "38.125" for 38125 and 3 decimals, and back: exact, rounded half away from zero when there are more digits.
std::string ticks_text(std::int64_t ticks, int decimals);
std::optional<std::int64_t> parse_ticks(std::string_view text, int decimals);

}  // namespace riserkeep
