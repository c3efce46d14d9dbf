#include "daemon/alerts/message.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "daemon/formats/event_json.h"

namespace riserkeep {

OutboxRow row_of(const Message& m) {
  std::string references;
  for (const auto& r : m.references) references += (references.empty() ? "" : ",") + json_string(r);
  OutboxRow row;
  row.notice = m.notice;
  row.person = m.person;
  row.decided = m.decided;
  row.wall = m.wall;
  row.content = fmt::format(
      "{{\"kind\":{},\"priority\":{},\"about_delivery\":{},\"place\":{},\"place_name\":{},\"subject\":{},\"short\":{},\"long\":{},\"references\":[{}]}}",
      static_cast<int>(m.kind), static_cast<int>(m.priority), m.about_delivery, json_string(m.place), json_string(m.place_name),
      json_string(m.subject), json_string(m.short_text), json_string(m.long_text), references);
  return row;
}

std::optional<Message> message_of(const OutboxRow& row) {
  Message m;
  m.notice = row.notice;
  m.person = row.person;
  m.decided = row.decided;
  m.wall = row.wall;
  try {
    const auto j = nlohmann::json::parse(row.content);
    const int kind = j.at("kind").get<int>(), priority = j.at("priority").get<int>();
    if (kind < 0 || kind > static_cast<int>(NoticeKind::test) || priority < 0 || priority > static_cast<int>(Priority::critical))
      return std::nullopt;
    m.kind = static_cast<NoticeKind>(kind);
    m.priority = static_cast<Priority>(priority);
    m.about_delivery = j.at("about_delivery").get<bool>();
    m.place = j.at("place").get<std::string>();
    m.place_name = j.at("place_name").get<std::string>();
    m.subject = j.at("subject").get<std::string>();
    m.short_text = j.at("short").get<std::string>();
    m.long_text = j.at("long").get<std::string>();
    m.references = j.at("references").get<std::vector<std::string>>();
  } catch (const nlohmann::json::exception&) {
    return std::nullopt;
  }
  return m;
}

}  // namespace riserkeep
