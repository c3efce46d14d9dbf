#include "config/load/conversion.h"

#include <cmath>

#include <fmt/format.h>

namespace riserkeep {

namespace {

constexpr Bounds kAny{-1e12, 1e12};
// NE 43: 3.8 to 20.5 mA is a measurement.
constexpr double kLowestMeasured = 3.8, kHighestMeasured = 20.5;

std::string example_unit(Signal s) { return std::string(info_of(s).unit); }

bool fits(const Field& span, Dimension d) {
  const auto& text = span.node->text;
  const auto space = text.rfind(' ');
  const auto to = text.rfind(" to ");
  if (to == std::string::npos || space == std::string::npos) return true;  // reading it will say what is wrong
  return space == to + 3 || find_unit(d, std::string_view(text).substr(space + 1)) != nullptr;
}

std::optional<std::pair<double, double>> printed_range(const Field& f, Signal s, std::optional<Dimension> d) {
  if (!d) {
    // Auxiliary values keep the unit they are written in.
    const auto text = read_text(f);
    if (!text) return std::nullopt;
    return parse_range(f, text->substr(0, text->find_last_of("0123456789") + 1), Dimension::count, kAny);
  }
  const auto si = read_range(f, *d, kAny);
  if (!si) return std::nullopt;
  return std::pair{printed_from_si(s, si->first), printed_from_si(s, si->second)};
}

std::optional<Conversion> loop_conversion(const Field& f, const PointForm& form, Channel& c,
                                          std::optional<Dimension> d) {
  Conversion out;
  const std::string sample = d ? written(*d, 0) : "0";
  if (!form.span) {
    f.error("its 4-20 mA signal has no span",
            fmt::format("add 'span: 0 to 200 {}' at the device or the point", example_unit(c.signal)));
    return std::nullopt;
  }
  if (d && !form.own_span && !fits(*form.span, *d)) {
    f.warn(fmt::format("the device's span '{}' is not one of {}; this point is not measured until it has its own",
                       form.span->node->text, info_of(c.signal).word),
           fmt::format("write {{at: ..., span: LOW to HIGH {}}}", example_unit(c.signal)));
    return std::nullopt;
  }
  const auto range = printed_range(*form.span, c.signal, d);
  if (!range) return std::nullopt;
  c.span_low = range->first;
  c.span_high = range->second;
  const auto [raw4, raw20] = form.counts.value_or(std::pair{4000.0, 20000.0});
  const double per_count = 16.0 / (raw20 - raw4);
  if (std::abs(raw4 * per_count - 4.0) < 1e-9) {
    out.loop = CurrentLoop{per_count, range->first, range->second};
    return out;
  }
  // Counts that do not start at 0 mA: the same line and the same bands, without the failure codes.
  const double width = range->second - range->first;
  out.scale = width / (raw20 - raw4);
  out.offset = range->first - raw4 * out.scale;
  out.valid_low = range->first + (kLowestMeasured - 4.0) / 16.0 * width;
  out.valid_high = range->first + (kHighestMeasured - 4.0) / 16.0 * width;
  return out;
}

// "0.01 % O2" or, for topics, the bare unit "%".
bool scale_conversion(const Field& f, Signal s, std::optional<Dimension> d, Conversion& out) {
  const auto text = read_text(f);
  if (!text) return false;
  const auto first = text->find_first_not_of(' ');
  const bool number = (*text)[first] == '-' || (*text)[first] == '+' || (*text)[first] == '.' ||
                      ((*text)[first] >= '0' && (*text)[first] <= '9');
  const auto space = number ? text->find(' ', first) : first;
  std::string why;
  const std::string factor = number ? text->substr(first, space == std::string::npos ? space : space - first) : "1";
  const auto v = parse_number(factor, why);
  if (!v || *v == 0) {
    f.error(fmt::format("'{}' is {}", *text, v ? "zero" : why),
            fmt::format("write one count's worth, like '0.01 {}'", example_unit(s)));
    return false;
  }
  std::string unit = space == std::string::npos ? "" : text->substr(text->find_first_not_of(' ', space));
  out.scale = *v;
  if (!d) return true;
  const Unit* u = find_unit(*d, unit);
  if (!u) {
    f.error(unit.empty() ? fmt::format("'{}' has no unit", *text)
                         : fmt::format("'{}' is not a unit of {}", unit, info_of(s).word),
            fmt::format("use {}", units_text(*d)));
    return false;
  }
  out.offset = printed_from_si(s, u->offset);
  out.scale = printed_from_si(s, *v * u->factor + u->offset) - out.offset;
  return true;
}

}  // namespace

std::optional<Conversion> make_conversion(const Field& f, const PointForm& form, Channel& c, bool is_register,
                                          bool is_bit) {
  const auto d = dimension_of(c.signal);
  Conversion out;
  if (info_of(c.signal).contact || is_bit) {
    out.inverted = form.inverted;
    return out;
  }
  if (form.loop && is_register) {
    const auto loop = loop_conversion(f, form, c, d);
    if (!loop) return std::nullopt;
    out = *loop;
  } else if (form.scale) {
    if (!scale_conversion(*form.scale, c.signal, d, out)) return std::nullopt;
    if (form.span)
      if (const auto range = printed_range(*form.span, c.signal, d)) {
        c.span_low = range->first;
        c.span_high = range->second;
      }
  } else if (d) {
    f.error(is_register ? "how its number becomes a value is missing" : "its unit is missing",
            is_register
                ? fmt::format("add 'scale: 0.01 {0}' (one count's worth) or 'signal: 4-20 mA, span: 0 to 200 {0}'",
                              example_unit(c.signal))
                : fmt::format("add 'unit: \"{}\"'", example_unit(c.signal)));
    return std::nullopt;
  }
  if (form.offset && d)
    if (const auto si = read_quantity(*form.offset, *d, kAny)) out.offset = printed_from_si(c.signal, *si);
  if (form.valid)
    if (const auto range = printed_range(*form.valid, c.signal, d)) {
      out.valid_low = range->first;
      out.valid_high = range->second;
    }
  out.invalid = form.invalid;
  return out;
}

}  // namespace riserkeep
