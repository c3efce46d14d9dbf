// The long text of one alarm: place, value, limit, since when, what follows and in how long, what to do first,
// which reading is old, how to acknowledge. One line each.
#pragma once

#include <string>

#include "rules/judge/classes.h"
#include "rules/view.h"

namespace riserkeep {

std::string paragraph(const SiteView&, const Occurrence&);

// What follows and in how long, by class and kind of valve. rules/notices/consequence.cpp
std::string consequence(const SiteView&, const Occurrence&);

// "Low air: Loading dock in about 6 h, Archive not known": every system this supply feeds.
std::string low_air_of_supply(const SiteView&, SupplyId);
// The system of this supply that is first at low air, where any is known: "low air in 6 h at Archive".
std::string first_low_air(const SiteView&, SupplyId);

// What is ahead in the fewest words, where it is known: "trip in 20 min", "low air in 6 h"; empty: not known,
// or no matter of this alarm.
std::string ahead(const SiteView&, ClassId, PlaceId);

// Readings of this place that are old or bad, with their age; empty: none.
std::string old_readings(const SiteView&, PlaceId);

std::string acknowledge_words(std::string_view reference);

}  // namespace riserkeep
