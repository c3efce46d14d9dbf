#include "rules/time.h"
using namespace riserkeep;
EngineTime fine = EngineTime{} + seconds(1);
#ifdef REFUSED
EngineTime wrong = std::chrono::system_clock::time_point{};
#endif
