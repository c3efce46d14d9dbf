// Several messages to one person as one: what waited for the morning, or what a flood would have brought.
#pragma once

#include <string>
#include <vector>

#include "rules/notices/topic.h"
#include "rules/site.h"

namespace riserkeep {

enum class Bundle : std::uint8_t { held, flood };

// The worst first; counts by class and place; every reference is named.
Draft bundled(const Site&, const std::vector<Draft>&, Bundle);

// Adds a few words to what waits ("Over after 3 min."); the short text stays within one message.
void add_words(Draft&, const std::string& words);

}  // namespace riserkeep
