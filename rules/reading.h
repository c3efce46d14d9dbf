// One value from one channel, quantised once at the edge: log, CSV and engine see the same integer.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

#include "rules/ids.h"
#include "rules/time.h"

namespace riserkeep {

enum class Quality : std::uint8_t { good, uncertain, bad };

enum class Why : std::uint8_t {
  none, stale, retained, out_of_range, failed_low, failed_high, frozen, no_value, flushing, link_lost,
};

// What a channel measures. The words, units and decimals are those of the telemetry CSV.
enum class Signal : std::uint8_t {
  pressure, temperature, oxygen, sample_port, vent_command, vent_open, low_air, waterflow, water_pressure,
  supply_oxygen, supply_pressure, supply_running, air_bypass, supply_flow, barometer, room_temperature,
  room_oxygen, lockout, fire, auxiliary,
};

struct SignalInfo {
  Signal signal;
  std::string_view word;  // as written in CSV and events
  std::string_view unit;  // printed unit; empty for contacts
  int decimals;           // a tick is 10^-decimals of the printed unit
  bool contact;           // 0 or 1
};

inline constexpr std::array<SignalInfo, 20> kSignals{{
    {Signal::pressure, "pressure", "psi", 3, false},
    {Signal::temperature, "temperature", "C", 2, false},
    {Signal::oxygen, "oxygen", "%", 3, false},
    {Signal::sample_port, "sample_port", "", 0, true},
    {Signal::vent_command, "vent_command", "", 0, true},
    {Signal::vent_open, "vent_open", "", 0, true},
    {Signal::low_air, "low_air", "", 0, true},
    {Signal::waterflow, "waterflow", "", 0, true},
    {Signal::water_pressure, "water_pressure", "psi", 2, false},
    {Signal::supply_oxygen, "supply_oxygen", "%", 3, false},
    {Signal::supply_pressure, "supply_pressure", "psi", 2, false},
    {Signal::supply_running, "supply_running", "", 0, true},
    {Signal::air_bypass, "air_bypass", "", 0, true},
    {Signal::supply_flow, "supply_flow", "scfh", 3, false},
    {Signal::barometer, "barometer", "kPa", 3, false},
    {Signal::room_temperature, "room_temperature", "C", 2, false},
    {Signal::room_oxygen, "room_oxygen", "%", 2, false},
    {Signal::lockout, "lockout", "", 0, true},
    {Signal::fire, "fire", "", 0, true},
    {Signal::auxiliary, "auxiliary", "", 3, false},
}};
constexpr const SignalInfo& info_of(Signal s) { return kSignals[static_cast<std::size_t>(s)]; }
namespace detail {
constexpr std::array<double, kSignals.size()> ticks_of_signals() {
  std::array<double, kSignals.size()> ticks{};
  for (std::size_t i = 0; i < ticks.size(); ++i) {
    ticks[i] = 1.0;
    for (int d = 0; d < kSignals[i].decimals; ++d) ticks[i] /= 10.0;
  }
  return ticks;
}
inline constexpr auto kTicks = ticks_of_signals();
}  // namespace detail
constexpr double tick_of(Signal s) { return detail::kTicks[static_cast<std::size_t>(s)]; }

struct Reading {
  ChannelId channel;
  EngineTime measured;
  std::optional<std::int64_t> ticks;  // of the printed unit; absent: nothing was read
  Quality quality = Quality::bad;
  Why why = Why::none;
  bool operator==(const Reading&) const = default;
};

}  // namespace riserkeep
