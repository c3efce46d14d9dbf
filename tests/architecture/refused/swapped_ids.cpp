#include "rules/ids.h"
using namespace riserkeep;
ChannelId fine = ChannelId{3};
#ifdef REFUSED
ChannelId wrong = OutputId{3};
#endif
