// The building blocks of the documents; only for the units of this folder (they carry the JSON library).
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>

#include "daemon/service/resources.h"
#include "rules/ids.h"

namespace riserkeep::resources {

using Json = nlohmann::ordered_json;

struct Labels {
  const SiteView& view;
  WallOffset offset;
  Json time(EngineTime) const;                         // RFC 3339 or null
  Json time(const std::optional<EngineTime>&) const;
  Json age(EngineTime) const;                          // whole seconds
};

Json rounded(double value, int decimals);
Json number(std::optional<double> value, int decimals);

Json system_document(const Labels&, SystemId);
Json alarm_list(const Labels&, std::optional<SystemId> only);
Json purity_document(const Labels&, SystemId);
void add_people(const Labels&, Json& status);          // shelved, out of service, work, overdue chores, figures
Json rest_document(const Labels&, ClassId, PlaceId);   // null: people are told of it
std::string vent_word(const SiteView&, SystemId);      // "open", "shut", "unsure", "locked", "none"

}  // namespace riserkeep::resources
