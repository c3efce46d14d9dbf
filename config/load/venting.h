// venting: - every time, count and limit of the vent decision, as one table that loader, docs and schema walk.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "config/load/units.h"
#include "rules/site.h"

namespace riserkeep {

struct VentingKey {
  std::string_view key;
  Dimension dimension;
  double low, high;  // SI, inclusive
  bool whole;        // a count without a fraction
  std::string_view help;
  double (*get)(const VentingParams&);  // SI
  void (*set)(VentingParams&, double si);
};

std::span<const VentingKey> venting_keys();
void read_venting(VentingParams&, const std::optional<Field>&);

}  // namespace riserkeep
