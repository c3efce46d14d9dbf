#include "config/load/units.h"

#include <algorithm>
#include <array>
#include <charconv>
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
    Unit{"psi", D::pressure, kPascalPerPsi, 0}, Unit{"bar", D::pressure, kPascalPerBar, 0},
    Unit{"kPa", D::pressure, 1e3, 0}, Unit{"mbar", D::pressure, 100, 0},
    Unit{"s", D::duration, 1, 0}, Unit{"ms", D::duration, 1e-3, 0}, Unit{"min", D::duration, 60, 0},
    Unit{"h", D::duration, 3600, 0}, Unit{"d", D::duration, 86400, 0},
    Unit{"F", D::temperature, 1 / 1.8, kKelvinAtZeroCelsius - 32 / 1.8}, Unit{"C", D::temperature, 1, kKelvinAtZeroCelsius},
    Unit{"K", D::temperature, 1, 0},
    Unit{"F", D::temperature_step, 1 / 1.8, 0}, Unit{"C", D::temperature_step, 1, 0}, Unit{"K", D::temperature_step, 1, 0},
    Unit{"%", D::oxygen, 0.01, 0}, Unit{"% O2", D::oxygen, 0.01, 0}, Unit{"ppm", D::oxygen, 1e-6, 0},
    Unit{"%", D::share, 0.01, 0},
    Unit{"gal", D::volume, kCubicMetrePerGallon, 0}, Unit{"L", D::volume, 1e-3, 0}, Unit{"m3", D::volume, 1, 0},
    Unit{"ft3", D::volume, kCubicMetrePerCubicFoot, 0},
    Unit{"mm", D::length, 1e-3, 0}, Unit{"in", D::length, 0.0254, 0}, Unit{"m", D::length, 1, 0},
    Unit{"ft", D::length, kMetrePerFoot, 0},
    Unit{"scfm", D::flow, kMolPerStandardCubicFoot / 60, 0}, Unit{"scfh", D::flow, kMolPerStandardCubicFoot / 3600, 0},
    Unit{"L/min", D::flow, kMolPerCubicMetre60F * 1e-3 / 60, 0}, Unit{"Nm3/h", D::flow, kMolPerCubicMetreNormal / 3600, 0},
};

constexpr std::string_view name_of(Dimension d) {
  switch (d) {
    case D::pressure: return "pressure";
    case D::pressure_rate: return "pressure per time";
    case D::duration: return "time";
    case D::temperature: return "temperature";
    case D::oxygen: return "oxygen or purity";
    case D::share: return "share";
    case D::count: return "number";
    case D::volume: return "volume";
    case D::length: return "length";
    case D::flow: return "gas flow";
    case D::temperature_step: return "temperature";
  }
  return "";
}

constexpr std::string_view example_of(Dimension d) {
  switch (d) {
    case D::pressure: return "40 psi";
    case D::pressure_rate: return "1.5 psi/24h";
    case D::duration: return "10 min";
    case D::temperature: return "40 F";
    case D::oxygen: return "98 %";
    case D::share: return "50 %";
    case D::count: return "3";
    case D::volume: return "480 gal";
    case D::length: return "1.0 mm";
    case D::flow: return "3 scfm";
    case D::temperature_step: return "2 F";
  }
  return "";
}

std::string_view trim(std::string_view s) {
  while (!s.empty() && (s.front() == ' ' || s.front() == '\t')) s.remove_prefix(1);
  while (!s.empty() && (s.back() == ' ' || s.back() == '\t')) s.remove_suffix(1);
  return s;
}

// Where the number ends and the unit begins. An exponent belongs to the number.
std::size_t number_length(std::string_view s) {
  std::size_t i = 0;
  const auto digits = [&] { while (i < s.size() && ((s[i] >= '0' && s[i] <= '9') || s[i] == '.' || s[i] == ',' || s[i] == '_')) ++i; };
  if (i < s.size() && (s[i] == '-' || s[i] == '+')) ++i;
  digits();
  if (i + 1 < s.size() && (s[i] == 'e' || s[i] == 'E') && (s[i + 1] == '-' || s[i + 1] == '+' || (s[i + 1] >= '0' && s[i + 1] <= '9'))) {
    i += 2;
    digits();
  }
  return i;
}

// "psi/24h": the unit before the stroke over so many of a time unit; bare "psi/h" is over one.
std::optional<double> rate_factor(std::string_view unit) {
  const auto stroke = unit.find('/');
  if (stroke == std::string_view::npos) return std::nullopt;
  const Unit* p = find_unit(D::pressure, trim(unit.substr(0, stroke)));
  const std::string_view per = trim(unit.substr(stroke + 1));
  const std::size_t n = number_length(per);
  std::string why;
  const double count = n == 0 ? 1.0 : parse_number(per.substr(0, n), why).value_or(0.0);
  const Unit* t = find_unit(D::duration, trim(per.substr(n)));
  if (!p || !t || !(count > 0)) return std::nullopt;
  return p->factor / (count * t->factor);
}

std::optional<double> to_si(const Field& f, std::string_view text, double v, std::string_view unit, Dimension d) {
  if (d == D::count) {
    if (unit.empty()) return v;
    f.error(fmt::format("'{}': a plain number is expected, without '{}'", text, unit), "remove the unit");
    return std::nullopt;
  }
  if (unit.empty()) {
    f.error(fmt::format("'{}' has no unit", text), fmt::format("write it like '{}' ({})", example_of(d), units_text(d)));
    return std::nullopt;
  }
  if (d == D::pressure_rate) {
    if (const auto factor = rate_factor(unit)) return v * *factor;
  } else if (const Unit* u = find_unit(d, unit)) {
    return v * u->factor + u->offset;
  }
  f.error(fmt::format("'{}': '{}' is not a unit of {}", text, unit, name_of(d)), fmt::format("use {}", units_text(d)));
  return std::nullopt;
}

bool within(const Field& f, std::string_view text, double si, Dimension d, Bounds b) {
  const double slack = 1e-9 * std::max({std::abs(b.low), std::abs(b.high), 1e-12});
  if (si >= b.low - slack && si <= b.high + slack) return true;
  f.error(fmt::format("{} is too {}", text, si < b.low ? "low" : "high"),
          fmt::format("allowed is {} to {}", written(d, b.low), written(d, b.high)));
  return false;
}

}  // namespace

Dimension dimension_of(ParamKind k, double high) {
  switch (k) {
    case ParamKind::pressure: return D::pressure;
    case ParamKind::pressure_rate: return D::pressure_rate;
    case ParamKind::duration: return D::duration;
    case ParamKind::temperature: return high < 100 ? D::temperature_step : D::temperature;
    case ParamKind::oxygen: return D::oxygen;
    case ParamKind::share: return D::share;
    case ParamKind::count: return D::count;
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
  for (std::size_t i = 0; i < names.size(); ++i) out += (i == 0 ? "" : i + 1 == names.size() ? " or " : ", ") + std::string(names[i]);
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
      if (const Unit* u = find_unit(d, name); si >= u->factor && std::abs(std::remainder(si, u->factor)) < 1e-9) return fmt::format("{:.6g} {}", si / u->factor, name);
    return si < 1 && si > 0 ? fmt::format("{:.6g} ms", si * 1e3) : fmt::format("{:.6g} s", si);
  }
  for (const Unit& u : kUnits)
    if (u.dimension == d) return fmt::format("{:.6g} {}", (si - u.offset) / u.factor, u.name);
  return {};
}

std::optional<double> parse_number(std::string_view text, std::string& why) {
  const std::string_view s = trim(text);
  std::string_view digits = s;
  if (!digits.empty() && (digits[0] == '-' || digits[0] == '+')) digits.remove_prefix(1);
  if (s.find(',') != std::string_view::npos) { why = "a decimal comma or thousands separator; write 1.5 or 1000"; return std::nullopt; }
  if (digits.empty() || digits[0] < '0' || digits[0] > '9' || digits.find_first_not_of("0123456789.eE+-") != std::string_view::npos) {
    why = "not a plain decimal number";
    return std::nullopt;
  }
  if (digits.size() > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9') { why = "a number with a leading zero; write it without"; return std::nullopt; }
  double v = 0;
  const char* first = s.data() + (s[0] == '+' ? 1 : 0);
  const char* last = s.data() + s.size();
  const auto [end, code] = std::from_chars(first, last, v);
  if (code != std::errc{} || end != last || !std::isfinite(v) || s.back() == '.') { why = "not a plain decimal number"; return std::nullopt; }
  return v;
}

std::optional<double> parse_quantity(const Field& f, std::string_view whole, Dimension d, Bounds b) {
  const std::string_view text = trim(whole);
  const std::size_t n = number_length(text);
  std::string why;
  const auto v = parse_number(text.substr(0, n), why);
  if (!v) {
    f.error(fmt::format("'{}' is {}", text, why), fmt::format("write it like '{}'", example_of(d)));
    return std::nullopt;
  }
  const auto si = to_si(f, text, *v, trim(text.substr(n)), d);
  if (!si || !within(f, text, *si, d, b)) return std::nullopt;
  return si;
}

std::optional<double> read_quantity(const Field& f, Dimension d, Bounds b) {
  const auto text = read_text(f);
  return text ? parse_quantity(f, *text, d, b) : std::nullopt;
}

std::optional<std::pair<double, double>> parse_range(const Field& f, std::string_view text, Dimension d, Bounds b) {
  const auto to = text.find(" to ");
  if (to == std::string_view::npos) {
    f.error(fmt::format("'{}' is not a range", text), fmt::format("write it like '10 to {}'", example_of(d)));
    return std::nullopt;
  }
  const std::string_view second = trim(text.substr(to + 4));
  std::string first{trim(text.substr(0, to))};
  if (const std::size_t n = number_length(second); number_length(first) == first.size()) first += " " + std::string(trim(second.substr(n)));
  const auto low = parse_quantity(f, first, d, b);
  const auto high = parse_quantity(f, second, d, b);
  if (!low || !high) return std::nullopt;
  if (!(*low < *high)) {
    f.error(fmt::format("'{}': the first value must be below the second", text), "write the low end first");
    return std::nullopt;
  }
  return std::pair{*low, *high};
}

std::optional<std::pair<double, double>> read_range(const Field& f, Dimension d, Bounds b) {
  const auto text = read_text(f);
  return text ? parse_range(f, *text, d, b) : std::nullopt;
}

std::optional<double> read_number(const Field& f, Bounds b) { return read_quantity(f, D::count, b); }

std::optional<Duration> read_duration(const Field& f, Duration low, Duration high) {
  const auto s = read_quantity(f, D::duration, {in_seconds(low), in_seconds(high)});
  return s ? std::optional{from_seconds(*s)} : std::nullopt;
}

std::optional<Dimension> dimension_of(Signal s) {
  switch (s) {
    case Signal::pressure: case Signal::water_pressure: case Signal::supply_pressure: case Signal::barometer: return D::pressure;
    case Signal::temperature: case Signal::room_temperature: return D::temperature;
    case Signal::oxygen: case Signal::supply_oxygen: case Signal::room_oxygen: return D::oxygen;
    case Signal::supply_flow: return D::flow;
    default: return std::nullopt;
  }
}

double printed_from_si(Signal s, double si) {
  const auto d = dimension_of(s);
  const Unit* u = d ? find_unit(*d, info_of(s).unit) : nullptr;
  return u ? (si - u->offset) / u->factor : si;
}

}  // namespace riserkeep
