// Which alarm explains which, and who shares what.
#pragma once

#include <optional>
#include <vector>

#include "rules/notices/topic.h"
#include "rules/view.h"

namespace riserkeep {

// What `p` depends on: supply, room, analyser, links, and what those depend on. Neither itself nor the box.
std::vector<PlaceId> upstream(const Site&, PlaceId);

// The standing alarm behind this one, and the first cause behind that. One of less priority explains nothing:
// whoever is told of it would not be called for this one.
struct Explained { AlarmKey by, root; };
std::optional<Explained> explained(const SiteView&, AlarmKey, Priority);

// Alarms of one class raised together are one message where they share this: systems their supply, links the box.
PlaceId shared_by(const Site&, PlaceId);

bool on_site(const Site&, PlaceId);

// Recorded but not told: shelved, out of service or under work.
bool rests(const SiteView&, ClassId, PlaceId);

// The newest verdict on it could not tell.
bool unproven(const SiteView&, ClassId, PlaceId);
// Its off-delay runs: it stands, but good readings say that it is over.
bool clearing(const SiteView&, ClassId, PlaceId);

}  // namespace riserkeep
