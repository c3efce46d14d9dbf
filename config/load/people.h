// people:, messages:, holidays:, texts: - who is told, how, what and when.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "config/load/build.h"

namespace riserkeep {

void read_people(Build&, const std::optional<Field>&);
void read_messages(MessageParams&, const std::optional<Field>&);
void read_holidays(Build&, const std::optional<Field>&);
void read_texts(Build&, const std::optional<Field>&);

// What messages: may set, for loader, docs and schema. SI; bounds inclusive.
struct MessageKey {
  std::string_view key;
  Dimension dimension;
  double low, high;
  std::string_view help;
  double (*get)(const MessageParams&);
  void (*set)(MessageParams&, double si);
};
std::span<const MessageKey> message_keys();

}  // namespace riserkeep
