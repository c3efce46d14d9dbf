// The whole of a site file, validated and immutable.
#pragma once

#include <string>

#include "config/wiring.h"
#include "rules/judge/settings.h"
#include "rules/site.h"

namespace riserkeep {

struct Description {
  Site site;
  RuleSettings rules;
  Wiring wiring;
  std::string file;      // as given on the command line
  std::string text;      // the bytes that were read; their SHA-256 goes into the input log
};

}  // namespace riserkeep
