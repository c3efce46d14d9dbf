// The words of one message: subject, one text message, paragraph.
#pragma once

#include <string>
#include <vector>

#include "rules/notices/topic.h"
#include "rules/view.h"

namespace riserkeep {

// About a topic. `kind`: alarm, reminder, escalation, still_bad, unstable or back_to_normal.
Draft draft_of(const SiteView&, TopicId, const Topic&, NoticeKind kind);

// "Over after 41 min."
std::string over_words(const Topic&);

Draft all_well_draft(const SiteView&);               // says what is not well where it is not
Draft started_draft(const SiteView&, std::optional<Duration> stopped);
Draft stopping_draft(const SiteView&, std::string_view why);
Draft test_draft(const SiteView&, std::string_view who);
Draft work_draft(const SiteView&, SystemId, std::string_view what, EngineTime since);
Draft chores_draft(const SiteView&, const std::vector<std::string>& overdue, EngineTime since);

}  // namespace riserkeep
