#include "rules/judge/classes.h"

#include <array>

namespace riserkeep {
namespace {

using enum ClassId;
using enum Category;

constexpr ClassSet kFromLink = ClassSet::of(link_lost);
constexpr ClassSet kFromOperation = ClassSet::of(valve_operated);

// In the order of ClassId. Nothing here asks anyone to close a water valve or to enter a room.
constexpr std::array<AlarmClass, kClassCount> kTable{{
    {valve_operated, safety, Priority::critical, seconds(0), minutes(1), true, {}, "psi", 1,
     "valve probably open", "Treat as fire.",
     "Treat it as a fire until it is proven not to be: follow the building's emergency plan. Once the building is "
     "released, have a licensed contractor look at the valve and reset it, then release this alarm by name."},
    {rapid_loss, safety, Priority::critical, seconds(0), minutes(2), false, kFromOperation, "psi/min", 1,
     "air falls fast", "Look for flow, a broken pipe, an open drain.",
     "Expect water in the pipe. Warn the building, look for a broken pipe, an open drain or an open sprinkler. Leave "
     "the water supply as it is and call the service company."},
    {near_trip, safety, Priority::critical, seconds(0), minutes(1), false, ClassSet::of(valve_operated, rapid_loss), "psi", 1,
     "air is near the trip point", "Check feed, vent and drains now.",
     "See that the feed valve of the air maintenance device is open and the supply runs; close an open drain or the "
     "hand valve of a vent that leaks. Leave the water supply as it is; call the service company."},
    {vent_stuck_open, safety, Priority::critical, seconds(0), seconds(0), false, kFromOperation, "psi", 1,
     "vent does not shut", "Shut the vent's hand valve.",
     "Shut the hand valve in front of this vent and watch the air gauge: it must stop falling. Vents on this supply "
     "stay locked until the vent is proved shut."},
    {room_oxygen, safety, Priority::critical, seconds(0), minutes(5), false, {}, "%", 1,
     "room oxygen out of limits", "Nobody enters.",
     "Nobody enters. Keep people out of the room, ventilate it if that can be done from outside, and call the fire "
     "service if someone is inside."},
    {pressure_low, supervisory, Priority::high, seconds(60), seconds(60), false,
     ClassSet::of(valve_operated, rapid_loss, near_trip, vent_stuck_open, supply_failed), "psi", 1,
     "air is low", "Check feed and drains.",
     "Read the air gauge. See that the feed valve is open and the supply runs, and that drains and the vent's hand "
     "valve do not leak."},
    {pressure_high, supervisory, Priority::medium, seconds(60), seconds(60), false, kFromOperation, "psi", 1,
     "air is high", "Check the air maintenance device.",
     "Read the air gauge. See whether the air maintenance device still feeds (a regulator that creeps, a bypass left "
     "open) and stop that feed; too much air delays the water."},
    {supply_failed, supervisory, Priority::high, seconds(0), minutes(1), false, {}, "min", 0,
     "supply does not restore the air", "Check supply, feed valve and vents.",
     "See that the generator or compressor runs and its outlet valve is open; cylinders: read their gauge. Then look "
     "for a vent or drain that is open."},
    {supply_purity_low, maintenance, Priority::high, minutes(10), minutes(10), false, ClassSet::of(supply_is_air), "%", 1,
     "nitrogen is not pure enough", "Service the generator; purges wait.",
     "Check the generator's filters, flow and set point, or the cylinder's certificate. Purges wait until the feed is "
     "pure enough; the systems stay supervised."},
    {supply_is_air, maintenance, Priority::high, seconds(60), minutes(5), false, {}, "%", 1,
     "supply gives air", "Shut the air bypass when nitrogen is back.",
     "See why the air bypass is open. When the nitrogen supply works again, shut the air bypass; the pipes fed with air "
     "must be purged again."},
    {vent_blocked, trouble, Priority::high, seconds(0), seconds(0), false, kFromLink, "psi", 1,
     "vent opens without effect", "Check the vent's hand valve and orifice.",
     "See that the hand valve in front of the vent is open, then clean strainer and orifice. The vent stays locked "
     "until then."},
    {output_mismatch, trouble, Priority::high, seconds(0), seconds(0), false, kFromLink, "", 0,
     "output does not follow its order", "Check relay and wiring of the vent.",
     "Check relay unit, fuse and wiring of this vent, and that it is shut. It stays locked until it follows."},
    {link_lost, trouble, Priority::medium, seconds(30), seconds(30), false, {}, "", 0,
     "no answer", "Check power and cable of the devices.",
     "Check power, cable and address of the devices on this link. Until they answer, read the gauges by hand."},
    {room_cold, supervisory, Priority::high, minutes(5), minutes(5), false, kFromLink, "F", 1,
     "valve room is cold", "Restore the heating.",
     "Restore the heating and close what lets the cold in: the valve and its water must stay above 40 F."},
    {leak, maintenance, Priority::medium, seconds(0), hours(1), false, kFromOperation, "psi in 24 h", 1,
     "leaks", "Book a leak search.",
     "Book a leak search: begin at low-point drains, the vent and the last work done on this system."},
    {leak_growing, maintenance, Priority::medium, seconds(0), seconds(0), false, ClassSet::of(leak, valve_operated), "psi in 24 h", 1,
     "leak grows week by week", "Book a leak search.",
     "Book a leak search before it becomes urgent: a leak that grows is often corrosion or a seal that gives way."},
    {refill_frequent, maintenance, Priority::medium, seconds(0), minutes(30), false, ClassSet::of(leak, supply_failed, valve_operated), "refills", 0,
     "refills too often", "Look for a leak; check the cut-in switch.",
     "Look for a leak, and at the switches of the air maintenance device: cut-in and cut-out too close also refill often."},
    {purity_low, maintenance, Priority::medium, seconds(0), seconds(0), false, ClassSet::of(supply_is_air, valve_operated), "% O2", 1,
     "purity fell below its target", "See what let air in.",
     "See what let air in: a refill with air, work on the pipe, a leak. In mode keep it is purged again by itself when "
     "the feed is good."},
    {purity_stall, maintenance, Priority::medium, seconds(0), seconds(0), false, ClassSet::of(supply_purity_low, supply_is_air), "% O2", 1,
     "purge will not reach its target", "Read the cause, then book service.",
     "Read the cause given here; `why` shows the figures. No more gas is spent on this purge until somebody has looked."},
    {purge_overdue, maintenance, Priority::low, seconds(0), seconds(0), false, ClassSet::of(purity_stall, supply_purity_low, supply_is_air), "d", 0,
     "purity is not verified in time", "See what it waits for.",
     "`why` says what the purge waits for; or book the sample that is due."},
    {instrument_fault, trouble, Priority::medium, seconds(0), minutes(1), false, kFromLink, "", 0,
     "instrument fault", "Check the instrument and its wiring.",
     "Read the gauge by hand, then check the instrument, its loop supply and wiring."},
    {history_fault, trouble, Priority::medium, seconds(0), minutes(1), false, {}, "", 0,
     "history is not stored", "Check the disk of the box.",
     "Check the disk of the box: space, write protection, age of the card. Supervision goes on meanwhile."},
    {messages_undelivered, trouble, Priority::medium, seconds(0), minutes(1), false, {}, "", 0,
     "messages are not delivered", "Check network and mail server.",
     "Check the network and the mail server. Look at the alarms here until messages go out again."},
    {clock_unsure, trouble, Priority::medium, minutes(10), minutes(1), false, {}, "", 0,
     "clock is not synchronised", "Check the time server.",
     "Check network and time server. Alarms and delays are right; dates and times may not be."},
    {config_rejected, trouble, Priority::medium, seconds(0), seconds(0), false, {}, "", 0,
     "new site file was refused", "Check the site file.",
     "Run `check` on the site file and mend what it lists; the former one is still in force."},
}};

constexpr bool in_order() {
  for (std::size_t i = 0; i < kTable.size(); ++i)
    if (static_cast<std::size_t>(kTable[i].id) != i) return false;
  return true;
}
static_assert(in_order(), "a row per class, in the order of ClassId");

}  // namespace

const AlarmClass& class_of(ClassId c) { return kTable[static_cast<std::size_t>(c)]; }

}  // namespace riserkeep
