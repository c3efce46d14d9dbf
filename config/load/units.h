// Written quantities: "40 psi", "1.5 psi/24h", "0 to 200 psi". A unit is required; SI comes out.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/load/section.h"
#include "rules/judge/rule.h"
#include "rules/quantities.h"
#include "rules/reading.h"
#include "rules/time.h"

namespace riserkeep {

// SI units: Pa, Pa/s, s, K, fraction, fraction, 1, m3, m, mol/s, K (a difference).
enum class Dimension {
  pressure,
  pressure_rate,
  duration,
  temperature,
  oxygen,
  share,
  count,
  volume,
  length,
  flow,
  temperature_step
};

// `high` tells a temperature from a difference of two: no setting of a site lies under 100 K.
Dimension dimension_of(ParamKind, double high);

struct Unit {
  std::string_view name;
  Dimension dimension;
  double factor, offset;  // SI = written * factor + offset
};

// The unit of that name, or nothing.
const Unit* find_unit(Dimension, std::string_view name);
// "psi, bar, kPa or mbar"
std::string units_text(Dimension);
// In the unit the trade writes first: "40 psi", "30 min".
std::string written(Dimension, double si);

struct Bounds {
  double low, high;
};  // SI, inclusive

// A plain decimal number: no hex, no leading zeros, no NaN or infinity. `why` says what is wrong.
std::optional<double> parse_number(std::string_view text, std::string& why);

// A quantity in SI within its bounds; complains otherwise.
std::optional<double> read_quantity(const Field&, Dimension, Bounds);
std::optional<double> parse_quantity(const Field&, std::string_view text, Dimension, Bounds);
// "31 psi to 48 psi" or "31 to 48 psi", low < high.
std::optional<std::pair<double, double>> read_range(const Field&, Dimension, Bounds);
std::optional<std::pair<double, double>> parse_range(const Field&, std::string_view text, Dimension, Bounds);
std::optional<double> read_number(const Field&, Bounds);

std::optional<Duration> read_duration(const Field&, Duration low, Duration high);

// What a signal measures and how SI becomes its printed unit (`info_of(signal).unit`).
std::optional<Dimension> dimension_of(Signal);  // nothing: contacts and auxiliary
double printed_from_si(Signal, double si);

}  // namespace riserkeep
