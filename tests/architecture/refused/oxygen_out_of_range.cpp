#include "rules/quantities.h"
using namespace riserkeep;
static_assert(OxygenFraction::from_fraction(0.2).has_value() && !OxygenFraction::from_fraction(1.2).has_value());
#ifdef REFUSED
OxygenFraction wrong{1.2};
#endif
