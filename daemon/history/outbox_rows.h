// Messages that wait to be delivered, as journal.db keeps them: one row a message and person.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rules/time.h"

namespace riserkeep {

// Written in one transaction with the event that decided it, so that neither exists without the other.
struct OutboxRow {
  std::uint64_t notice = 0;            // NoticeId
  std::string person;                  // id in the site file: an index would mean others after a change of it
  EngineTime decided;
  std::optional<WallTime> wall;        // label of `decided`
  std::string content;                 // daemon/alerts/message.h
  // How far it came.
  bool started = false;                // an attempt may have reached the server: the next one is marked a repeat
  int failures = 0;
  std::string error;                   // of the newest attempt
};

enum class OutboxEnd : std::uint8_t { delivered, given_up, dropped };   // dropped: nothing to be told any more

// A change of a row.
struct OutboxMark {
  std::uint64_t notice = 0;
  std::string person;
  bool started = false;
  int failures = 0;
  std::string error, way;              // way: the address that was tried
  std::optional<OutboxEnd> end;
  EngineTime at;
};

// A token of a signed link that was used; kept until it would have expired anyway.
struct SpentToken { std::string sha256; std::int64_t until_wall_ms = 0; };

struct OutboxFound {
  std::vector<OutboxRow> waiting;      // in the order they were decided
  std::vector<std::string> lost;       // people whose newest finished message was given up
  std::vector<SpentToken> spent;
};

}  // namespace riserkeep
