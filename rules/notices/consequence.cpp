// What follows and in how long, class by class. Words about a valve come from its kind.
#include <algorithm>
#include <vector>

#include "rules/notices/outlook.h"
#include "rules/notices/paragraph.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMostNames = 12;

SystemId system_at(PlaceId p) { return SystemId{p.index}; }

// "At the present loss low air (28.0 psi) in about 6 h, the trip point in about 9 h."
std::string times(const SiteView& view, SystemId id) {
  const Outlook o = outlook(view, id);
  const System& s = view.site[id];
  if (!o.air) return "The air is not measured now: time to low air not known.";
  std::string out = o.low_air == Duration{} ? "The air is below the low-air switch (" + psi_text(s.valve.low_air_switch) + ")"
                                            : "Low air (" + psi_text(s.valve.low_air_switch) + ") " + low_air_words(o);
  if (o.trip_at) out += ", the trip point (" + psi_text(*o.trip_at) + ") " + trip_words(o);
  return out + (o.loss ? ", at the present loss and unfed." : ": the loss is not observable.");
}

std::string air_lost(const SiteView& view, SystemId id) { return times(view, id) + " " + valve_words(view.site[id]); }

std::string on_link(const SiteView& view, LinkId link) {
  std::vector<PlaceId> places;
  for (const Channel& c : view.site.channels)
    if (c.link == link && std::ranges::find(places, c.place) == places.end()) places.push_back(c.place);
  std::string out;
  for (std::size_t i = 0; i < places.size() && i < kMostNames; ++i)
    out += (i ? ", " : "") + std::string{place_name(view.site, places[i])};
  if (places.size() > kMostNames) out += " and " + fixed(static_cast<double>(places.size() - kMostNames), 0) + " more";
  return out;
}

std::string link_lost(const SiteView& view, const Occurrence& o) {
  const std::string names = on_link(view, LinkId{o.place.index});
  std::string out = names.empty() ? "What hangs on it is not measured." : "Not measured until it answers: " + names + ".";
  if (o.priority >= Priority::high) out += " The box is blind: it supervises nothing until then. The fire alarm system goes on by itself.";
  return out + " Vents on it stay shut.";
}

std::string of_system(const SiteView& view, const Occurrence& o) {
  const SystemId id = system_at(o.place);
  switch (o.alarm) {
    case ClassId::valve_operated:
      return "Water is probably in the pipe; in the cold it freezes there. Vent and sample port stay locked until this is released by name, and the "
             "purity is not known until the pipe has been purged again.";
    case ClassId::rapid_loss: case ClassId::near_trip: case ClassId::vent_stuck_open: case ClassId::pressure_low:
      return air_lost(view, id);
    case ClassId::pressure_high:
      return "Too much air delays the water when the valve has to open, and it goes on rising while "
             "something feeds.";
    case ClassId::leak: return air_lost(view, id) + " Every refill takes nitrogen and brings some oxygen.";
    case ClassId::leak_growing: return "It becomes urgent if it goes on. " + times(view, id);
    case ClassId::refill_frequent: return "Every refill brings some oxygen and wears the supply. " + times(view, id);
    default: return {};
  }
}

std::string of_purge(ClassId c) {
  switch (c) {
    case ClassId::vent_blocked: return "The vent stays locked and this purge rests; the pipe keeps its air.";
    case ClassId::output_mismatch:
      return "The vent may be open although it was told to shut, or the other way round; it stays locked, "
             "and only the air pressure shows where it is.";
    case ClassId::purity_low:
      return "The pipe corrodes faster above its target; mode keep purges it again by itself when the feed "
             "is good.";
    case ClassId::purity_stall:
      return "No more gas is spent on this purge; the pipe keeps its air and stays supervised.";
    case ClassId::purge_overdue: return "Nothing is unsafe; the purity is not proved.";
    default: return {};
  }
}

std::string of_others(const SiteView& view, const Occurrence& o) {
  switch (o.alarm) {
    case ClassId::room_oxygen:
      return "Below 19.5 % people faint without notice, above 23.5 % things burn more easily. Vents into "
             "this room are shut.";
    case ClassId::room_cold:
      return "At 32 F the water in the valve freezes; a valve that is frozen does not open, or breaks. How "
             "long that takes is not known here.";
    case ClassId::supply_failed: return low_air_of_supply(view, SupplyId{o.place.index});
    case ClassId::supply_purity_low: return "Purges wait; the pipes keep their air and stay supervised.";
    case ClassId::supply_is_air:
      return "Every refill brings oxygen into the pipes; those fed meanwhile must be purged again. They "
             "keep their air.";
    case ClassId::link_lost: return link_lost(view, o);
    case ClassId::instrument_fault:
      return "What it measures is not known; what needs it waits, and a vent that needs it stays shut.";
    case ClassId::history_fault: return "The record has a gap; alarms and messages go on.";
    case ClassId::messages_undelivered:
      return "People may not have been told of other alarms. Look at `riserkeep status` on the box.";
    case ClassId::clock_unsure: return "Times in messages and records may be wrong; delays and ages are not.";
    case ClassId::config_rejected: return "What was changed in the site file is not in force.";
    default: return {};
  }
}

}  // namespace

std::string consequence(const SiteView& view, const Occurrence& o) {
  if (o.place.kind == PlaceKind::system)
    if (std::string words = of_system(view, o); !words.empty()) return words;
  if (std::string words = of_purge(o.alarm); !words.empty()) return words;
  return of_others(view, o);
}

std::string ahead(const SiteView& view, ClassId c, PlaceId place) {
  if (c == ClassId::supply_failed) return first_low_air(view, SupplyId{place.index});
  const bool trip_first = c == ClassId::near_trip || c == ClassId::rapid_loss;
  if (place.kind != PlaceKind::system || (!trip_first && c != ClassId::pressure_low && c != ClassId::vent_stuck_open)) return {};
  const Outlook o = outlook(view, system_at(place));
  const auto told = [](const char* what, const std::optional<Duration>& left) {
    return left && *left > Duration{} && *left < days(30) ? what + duration_text(*left) : std::string{};
  };
  const std::string trip = told("trip in ", o.trip), low = told("low air in ", o.low_air);
  return (trip_first || low.empty()) ? (trip.empty() ? low : trip) : low;
}

std::string low_air_of_supply(const SiteView& view, SupplyId supply) {
  std::string out;
  for (std::uint16_t i = 0; i < view.site.systems.size(); ++i)
    if (view.site.systems[i].supply == supply)
      out += (out.empty() ? "Low air, unfed: " : ", ") + view.site.systems[i].name + " " + low_air_words(outlook(view, SystemId{i}));
  return out.empty() ? "No system hangs on it." : out + ".";
}

std::string first_low_air(const SiteView& view, SupplyId supply) {
  std::optional<Duration> soonest;
  std::string out;
  for (std::uint16_t i = 0; i < view.site.systems.size(); ++i) {
    if (view.site.systems[i].supply != supply) continue;
    const Outlook o = outlook(view, SystemId{i});
    if (!o.low_air || (soonest && *soonest <= *o.low_air)) continue;
    soonest = o.low_air;
    out = (o.low_air == Duration{} ? "low air now" : "low air in " + duration_text(*o.low_air)) + " at " + view.site.systems[i].name;
  }
  return out;
}

}  // namespace riserkeep
