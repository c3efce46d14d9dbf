// One notice for one person, as it waits in the outbox.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/history/outbox_rows.h"
#include "rules/effect.h"

namespace riserkeep {

struct Message {
  std::uint64_t notice = 0;
  std::string person;
  EngineTime decided;
  std::optional<WallTime> wall;            // label of `decided`; absent: the clock was not known
  NoticeKind kind{};
  Priority priority{};
  bool about_delivery = false;             // tells that messages do not get out: never by the way that fails
  std::string place, place_name, subject, short_text, long_text;
  std::vector<std::string> references;     // of the alarms it groups, the cause first
};

OutboxRow row_of(const Message&);
// Absent: the row's content cannot be read.
std::optional<Message> message_of(const OutboxRow&);

}  // namespace riserkeep
