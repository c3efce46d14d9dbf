#include "rules/units.h"
using namespace riserkeep;
PressureChange fine = psi(1) + psi_per_minute(1) * minutes(2);
#ifdef REFUSED
PressureChange wrong = psi(1) + psi_per_minute(1);
#endif
