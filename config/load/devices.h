// The keys that links with a unit, devices and points share.
#pragma once

#include <optional>

#include "config/load/build.h"

namespace riserkeep {

// Overwrites in `form` what the map gives. `own`: at the point itself, not at its device.
void read_form(Section& s, PointForm& form, bool own);
std::optional<DeviceTimeOut> read_device_time_out(Section& s);
int read_unit(Section& s, const std::optional<Field>& f);

}  // namespace riserkeep
