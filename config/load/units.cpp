#include "config/load/units.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "rules/gas.h"
#include "rules/units.h"

namespace riserkeep {

namespace {

using D = Dimension;

// Free gas at 60 F and 1 atm unless the unit says "N" (0 C and 1 atm).
constexpr double kMolPerCubicMetre60F = 101325.0 / (kGasConstant * kReference60F.si());
constexpr double kMolPerCubicMetreNormal = 101325.0 / (kGasConstant * kKelvinAtZeroCelsius);
constexpr double kMolPerStandardCubicFoot = kMolPerCubicMetre60F * kCubicMetrePerCubicFoot;

// The first of each dimension is the one that messages use.
constexpr std::array kUnits{
    Unit{"psi", D::pressure, kPascalPerPsi, 0},
    Unit{"bar", D::pressure, kPascalPerBar, 0},
    Unit{"kPa", D::pressure, 1e3, 0},
    Unit{"mbar", D::pressure, 100, 0},
    Unit{"s", D::duration, 1, 0},
    Unit{"ms", D::duration, 1e-3, 0},
    Unit{"min", D::duration, 60, 0},
    Unit{"h", D::duration, 3600, 0},
    Unit{"d", D::duration, 86400, 0},
    Unit{"F", D::temperature, 1 / 1.8, kKelvinAtZeroCelsius - 32 / 1.8},
    Unit{"C", D::temperature, 1, kKelvinAtZeroCelsius},
    Unit{"K", D::temperature, 1, 0},
    Unit{"F", D::temperature_step, 1 / 1.8, 0},
    Unit{"C", D::temperature_step, 1, 0},
    Unit{"K", D::temperature_step, 1, 0},
    Unit{"%", D::oxygen, 0.01, 0},
    Unit{"% O2", D::oxygen, 0.01, 0},
    Unit{"ppm", D::oxygen, 1e-6, 0},
    Unit{"%", D::share, 0.01, 0},
    Unit{"gal", D::volume, kCubicMetrePerGallon, 0},
    Unit{"L", D::volume, 1e-3, 0},
    Unit{"m3", D::volume, 1, 0},
    Unit{"ft3", D::volume, kCubicMetrePerCubicFoot, 0},
    Unit{"mm", D::length, 1e-3, 0},
    Unit{"in", D::length, 0.0254, 0},
    Unit{"m", D::length, 1, 0},
    Unit{"ft", D::length, kMetrePerFoot, 0},
    Unit{"scfm", D::flow, kMolPerStandardCubicFoot / 60, 0},
    Unit{"scfh", D::flow, kMolPerStandardCubicFoot / 3600, 0},
    Unit{"L/min", D::flow, kMolPerCubicMetre60F * 1e-3 / 60, 0},
    Unit{"Nm3/h", D::flow, kMolPerCubicMetreNormal / 3600, 0},
};

}  // namespace

Dimension dimension_of(ParamKind k, double high) {
  switch (k) {
    case ParamKind::pressure:
      return D::pressure;
    case ParamKind::pressure_rate:
      return D::pressure_rate;
    case ParamKind::duration:
      return D::duration;
    case ParamKind::temperature:
      return high < 100 ? D::temperature_step : D::temperature;
    case ParamKind::oxygen:
      return D::oxygen;
    case ParamKind::share:
      return D::share;
    case ParamKind::count:
      return D::count;
  }
  return D::count;
}

const Unit* find_unit(Dimension d, std::string_view name) {
  if (d == D::pressure && name == "psig") name = "psi";
  if (d == D::temperature && name.substr(0, 2) == "\xC2\xB0") name.remove_prefix(2);  // degree sign
  if (d == D::flow && name.size() > 6 && name.substr(name.size() - 6) == " (std)") name.remove_suffix(6);
  for (const Unit& u : kUnits)
    if (u.dimension == d && u.name == name) return &u;
  return nullptr;
}

std::string units_text(Dimension d) {
  if (d == D::count) return "no unit";
  if (d == D::pressure_rate) return "a pressure over a time, as psi/24h, psi/h, kPa/d or psi/min";
  std::vector<std::string_view> names;
  for (const Unit& u : kUnits)
    if (u.dimension == d) names.push_back(u.name);
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i)
    out += (i == 0 ? "" : i + 1 == names.size() ? " or " : ", ") + std::string(names[i]);
  return out;
}

std::string written(Dimension d, double si) {
  if (d == D::count) return fmt::format("{:.6g}", si);
  if (d == D::pressure_rate) {
    const double a_day = si * 86400 / kPascalPerPsi;
    return a_day >= 720 ? fmt::format("{:.6g} psi/min", a_day / 1440) : fmt::format("{:.6g} psi/24h", a_day);
  }
  if (d == D::duration) {
    for (const std::string_view name : {"d", "h", "min", "s"})
      if (const Unit* u = find_unit(d, name); si >= u->factor && std::abs(std::remainder(si, u->factor)) < 1e-9)
        return fmt::format("{:.6g} {}", si / u->factor, name);
    return si < 1 && si > 0 ? fmt::format("{:.6g} ms", si * 1e3) : fmt::format("{:.6g} s", si);
  }
  for (const Unit& u : kUnits)
    if (u.dimension == d) return fmt::format("{:.6g} {}", (si - u.offset) / u.factor, u.name);
  return {};
}

std::optional<Dimension> dimension_of(Signal s) {
  switch (s) {
    case Signal::pressure:
    case Signal::water_pressure:
    case Signal::supply_pressure:
    case Signal::barometer:
      return D::pressure;
    case Signal::temperature:
    case Signal::room_temperature:
      return D::temperature;
    case Signal::oxygen:
    case Signal::supply_oxygen:
    case Signal::room_oxygen:
      return D::oxygen;
    case Signal::supply_flow:
      return D::flow;
    default:
      return std::nullopt;
  }
}

double printed_from_si(Signal s, double si) {
  const auto d = dimension_of(s);
  const Unit* u = d ? find_unit(*d, info_of(s).unit) : nullptr;
  return u ? (si - u->offset) / u->factor : si;
}

}  // namespace riserkeep
