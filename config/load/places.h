// site:, rooms, supplies, analysers: where things are and what feeds and measures them.
#pragma once

#include <optional>
#include <string_view>

#include "config/load/section.h"
#include "rules/ids.h"

namespace riserkeep {

struct Build;

void read_site(Build&, Section& top);
void read_rooms(Build&, Section& top);
void read_supplies(Build&, Section& top);
// Names only, so that systems and analysers can name each other.
void name_analysers_and_systems(Build&, Section& top);
void read_analysers(Build&, Section& top);
// `auxiliary: {door: {at: contacts 10012}}` of any place.
void read_auxiliary(Build&, Section& map, PlaceId place);

// The one room or supply when there is only one, else the one that is named, by its name or its key.
std::size_t choose_one(Section& map, std::string_view key, const std::vector<std::string>& ids,
                       const std::vector<std::string>& keys, std::string_view what);

}  // namespace riserkeep
