#include "rules/units.h"
using namespace riserkeep;
bool fine = psig(40) < psig(41);
#ifdef REFUSED
bool wrong = psig(40) < psia(41);
#endif
