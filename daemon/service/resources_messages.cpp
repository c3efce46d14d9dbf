#include "daemon/service/resources_messages.h"

#include <nlohmann/json.hpp>

namespace riserkeep::resources {

Json messages_document(const Labels& labels, const MessagesNote& note) {
  const Outbox::Summary& s = note.outbox;
  Json j;
  j["people"] = note.people;
  j["undelivered"] = s.waiting;
  j["oldest"] = labels.time(s.oldest);
  j["oldest_age_s"] = s.oldest ? labels.age(*s.oldest) : Json(nullptr);
  j["delivered_since_start"] = s.delivered;
  j["given_up_since_start"] = s.given_up;
  j["ways"] = Json::array();
  for (const auto& way : s.ways) {
    Json w;
    w["way"] = way.way;
    w["undelivered"] = way.waiting;
    w["failures_running"] = way.failures;
    w["failing_since"] = labels.time(way.failing_since);
    w["last_error"] = way.error.empty() ? Json(nullptr) : Json(way.error);
    w["last_delivered"] = labels.time(way.delivered);
    j["ways"].push_back(std::move(w));
  }
  if (note.heartbeat) j["heartbeat"] = note.heartbeat_trouble.empty() ? Json("well") : Json(note.heartbeat_trouble);
  return j;
}

}  // namespace riserkeep::resources
