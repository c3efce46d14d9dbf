// Events and states to whoever follows: standard output, the broker, and the last ones for who asks.
#pragma once

#include <cstdio>
#include <deque>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/history/store.h"
#include "daemon/service/resources.h"
#include "rules/view.h"

namespace riserkeep {

class Publisher {
 public:
  using Send = std::function<void(std::string_view topic, const std::string& payload, bool retained, int qos)>;

  // `lines`: where events go as JSON Lines, null = nowhere. `send`: to the broker, empty = none.
  Publisher(const Site&, std::FILE* lines, Send send);

  void event(const JournalEvent&, bool stored);
  // Retained state of systems that changed, and of everything once a minute.
  void refresh(const SiteView&, WallOffset, const std::vector<LinkNote>&);
  // A JSON document of what is still remembered after event `seq`.
  std::string events_after(std::uint64_t seq) const;

 private:
  void print(const std::string& line);

  const Site& site_;
  std::FILE* lines_;
  Send send_;
  struct Kept { std::uint64_t seq; std::string json; };
  std::deque<Kept> newest_;
  std::vector<bool> changed_;              // by system
  std::optional<EngineTime> all_sent_;
};

}  // namespace riserkeep
