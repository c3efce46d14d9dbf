#include "rules/units.h"
using namespace riserkeep;
GaugePressure fine = psig(40.0);
#ifdef REFUSED
GaugePressure wrong = 40.0;
#endif
