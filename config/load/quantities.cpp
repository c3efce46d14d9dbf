// Reading written quantities: a number, its unit, its bounds.
#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "config/load/units.h"

namespace riserkeep {

namespace {

using D = Dimension;

constexpr std::string_view name_of(Dimension d) {
  switch (d) {
    case D::pressure:
      return "pressure";
    case D::pressure_rate:
      return "pressure per time";
    case D::duration:
      return "time";
    case D::temperature:
      return "temperature";
    case D::oxygen:
      return "oxygen or purity";
    case D::share:
      return "share";
    case D::count:
      return "number";
    case D::volume:
      return "volume";
    case D::length:
      return "length";
    case D::flow:
      return "gas flow";
    case D::temperature_step:
      return "temperature";
  }
  return "";
}

constexpr std::string_view example_of(Dimension d) {
  switch (d) {
    case D::pressure:
      return "40 psi";
    case D::pressure_rate:
      return "1.5 psi/24h";
    case D::duration:
      return "10 min";
    case D::temperature:
      return "40 F";
    case D::oxygen:
      return "98 %";
    case D::share:
      return "50 %";
    case D::count:
      return "3";
    case D::volume:
      return "480 gal";
    case D::length:
      return "1.0 mm";
    case D::flow:
      return "3 scfm";
    case D::temperature_step:
      return "2 F";
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
  const auto digits = [&] {
    while (i < s.size() && ((s[i] >= '0' && s[i] <= '9') || s[i] == '.' || s[i] == ',' || s[i] == '_')) ++i;
  };
  if (i < s.size() && (s[i] == '-' || s[i] == '+')) ++i;
  digits();
  if (i + 1 < s.size() && (s[i] == 'e' || s[i] == 'E') &&
      (s[i + 1] == '-' || s[i + 1] == '+' || (s[i + 1] >= '0' && s[i + 1] <= '9'))) {
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
    f.error(fmt::format("'{}' has no unit", text),
            fmt::format("write it like '{}' ({})", example_of(d), units_text(d)));
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

std::optional<double> parse_number(std::string_view text, std::string& why) {
  const std::string_view s = trim(text);
  std::string_view digits = s;
  if (!digits.empty() && (digits[0] == '-' || digits[0] == '+')) digits.remove_prefix(1);
  if (s.find(',') != std::string_view::npos) {
    why = "a decimal comma or thousands separator; write 1.5 or 1000";
    return std::nullopt;
  }
  if (digits.empty() || digits[0] < '0' || digits[0] > '9' ||
      digits.find_first_not_of("0123456789.eE+-") != std::string_view::npos) {
    why = "not a plain decimal number";
    return std::nullopt;
  }
  if (digits.size() > 1 && digits[0] == '0' && digits[1] >= '0' && digits[1] <= '9') {
    why = "a number with a leading zero; write it without";
    return std::nullopt;
  }
  double v = 0;
  const char* first = s.data() + (s[0] == '+' ? 1 : 0);
  const char* last = s.data() + s.size();
  const auto [end, code] = std::from_chars(first, last, v);
  if (code != std::errc{} || end != last || !std::isfinite(v) || s.back() == '.') {
    why = "not a plain decimal number";
    return std::nullopt;
  }
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
  if (const std::size_t n = number_length(second); number_length(first) == first.size())
    first += " " + std::string(trim(second.substr(n)));
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

}  // namespace riserkeep
