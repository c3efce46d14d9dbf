#include "rules/time.h"
using namespace riserkeep;
EngineTime fine{seconds(5)};
#ifdef REFUSED
EngineTime wrong = EngineClock::now();
#endif
