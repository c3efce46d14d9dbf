// Every rule, in the order they are judged. A new rule adds its files and one line here.
#pragma once

#include <tuple>

#include "rules/judge/analyser.h"
#include "rules/judge/box.h"
#include "rules/judge/instrument.h"
#include "rules/judge/leak.h"
#include "rules/judge/limit.h"
#include "rules/judge/link.h"
#include "rules/judge/near_trip.h"
#include "rules/judge/purge.h"
#include "rules/judge/rapid_loss.h"
#include "rules/judge/refill.h"
#include "rules/judge/room.h"
#include "rules/judge/supply.h"
#include "rules/judge/vent_follow.h"

namespace riserkeep {

using AllRules = std::tuple<
    LimitRule,
    NearTripRule,
    RapidLossRule,
    VentFollowRule,
    RoomRule,
    SupplyRule,
    LinkRule,
    InstrumentRule,
    AnalyserRule,
    LeakRule,
    RefillRule,
    PurgeRule,
    BoxRule>;

}  // namespace riserkeep
