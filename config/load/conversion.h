// From how a point is written (signal, span, scale, unit) to the arithmetic from raw number to printed unit.
#pragma once

#include <optional>

#include "config/load/build.h"

namespace riserkeep {

// Also sets the channel's span. Nothing when it cannot be made; said where needed.
std::optional<Conversion> make_conversion(const Field&, const PointForm&, Channel&, bool is_register, bool is_bit);

}  // namespace riserkeep
