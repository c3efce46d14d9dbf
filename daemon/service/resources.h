// What the program knows, as JSON documents: status, one system, why, alarms. One source for the command line,
// the broker and whatever else asks. Figures in fixed decimals; "not measured" is null with its reason.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/site.h"
#include "rules/time.h"
#include "rules/view.h"

namespace riserkeep {

// Label of engine time zero; absent: the wall clock is not known yet and every time is null.
using WallOffset = std::optional<std::int64_t>;

inline constexpr std::string_view kWellOutputNote = "relay 'box well'";   // no link's id has a blank
struct LinkNote { std::string id, trouble; };   // what the drivers say about a link that is not well

// What becomes of messages to people; resources_messages.h.
struct MessagesNote;
std::string status_json(const SiteView&, WallOffset, const std::vector<LinkNote>& = {}, const MessagesNote* = nullptr);
std::string system_json(const SiteView&, SystemId, WallOffset);     // one entry of "systems"
std::string why_json(const SiteView&, SystemId, WallOffset);
std::string box_json(const SiteView&, WallOffset, const std::vector<LinkNote>&);   // "status": "online", links, box
std::string alarms_json(const SiteView&, WallOffset);

}  // namespace riserkeep
