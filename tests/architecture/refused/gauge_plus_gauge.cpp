#include "rules/units.h"
using namespace riserkeep;
auto difference = psig(40) - psig(35);
#ifdef REFUSED
auto sum = psig(40) + psig(35);
#endif
