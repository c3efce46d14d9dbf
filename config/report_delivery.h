// The part of `check` that says how messages leave the box.
#pragma once

#include <string>

#include "config/site.h"

namespace riserkeep {

std::string delivery_report(const Description&);   // empty when nobody is named

}  // namespace riserkeep
