#include "daemon/service/resources.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "daemon/formats/rfc3339.h"
#include "daemon/service/resources_messages.h"
#include "daemon/service/resources_parts.h"
#include "rules/text.h"

namespace riserkeep {
namespace resources {

Json rounded(double value, int decimals) {
  if (!std::isfinite(value)) return nullptr;
  const double factor = std::pow(10.0, decimals);
  const double r = std::round(value * factor) / factor;
  return r == 0.0 ? 0.0 : r;
}
Json number(std::optional<double> value, int decimals) { return value ? rounded(*value, decimals) : Json(nullptr); }

Json Labels::time(EngineTime t) const {
  if (!offset) return nullptr;
  return rfc3339(WallTime{t.time_since_epoch().count() + *offset});
}
Json Labels::time(const std::optional<EngineTime>& t) const { return t ? time(*t) : Json(nullptr); }
Json Labels::age(EngineTime t) const {
  return std::chrono::duration_cast<seconds>(view.now - t).count();
}

namespace {

Json channel_value(const SiteView& v, std::optional<ChannelId> channel) {
  if (!channel) return nullptr;
  const auto& state = v.channels[*channel];
  const Signal signal = v.site[*channel].signal;
  Json j;
  j["value"] = number(v.channels.value(v.site, *channel, v.now), info_of(signal).decimals);
  j["unit"] = info_of(signal).unit;
  if (j["value"].is_null()) j["why_not"] = word(v.channels.why_not(v.site, *channel, v.now));
  if (state.ever) j["age_s"] = std::chrono::duration_cast<seconds>(v.now - state.measured).count();
  return j;
}

Json room_document(const SiteView& v, const Room& room) {
  Json j;
  j["id"] = room.id;
  j["name"] = room.name;
  j["oxygen"] = channel_value(v, room.oxygen);
  j["temperature"] = channel_value(v, room.temperature);
  j["lockout"] = channel_value(v, room.lockout);
  return j;
}

Json supply_document(const SiteView& v, std::size_t i, const Labels& labels) {
  const Supply& supply = v.site.supplies[i];
  const SupplyState& state = v.supplies[i];
  Json j;
  j["id"] = supply.id;
  j["name"] = supply.name;
  j["oxygen_percent"] = state.oxygen ? rounded(state.oxygen->percent(), 2) : Json(nullptr);
  j["oxygen_age_s"] = state.oxygen ? labels.age(state.oxygen_at) : Json(nullptr);
  j["oxygen_configured_percent"] = rounded(supply.oxygen.percent(), 2);
  j["pressure"] = channel_value(v, supply.pressure);
  Json refilling = Json::array();
  for (std::size_t s = 0; s < v.site.systems.size(); ++s)
    if (v.site.systems[s].supply.index == i && v.twins[s].refills().running()) refilling.push_back(v.site.systems[s].id);
  j["refilling"] = std::move(refilling);
  return j;
}

Json link_document(const SiteView& v, std::size_t i, const Labels& labels, const std::vector<LinkNote>& notes) {
  const LinkState& state = v.links[i];
  Json j;
  j["id"] = v.site.links[i].id;
  j["state"] = !state.known ? "not known yet" : state.up ? "up" : "silent";
  j["since"] = state.known ? labels.time(state.since) : Json(nullptr);
  for (const auto& note : notes)
    if (note.id == v.site.links[i].id && !note.trouble.empty()) j["trouble"] = note.trouble;
  return j;
}

Json box_document(const SiteView& v, const Labels& labels, const std::vector<LinkNote>& notes) {
  static constexpr std::string_view kParts[] = {"history", "messages", "clock", "config"};
  Json list = Json::array();
  for (std::size_t i = 0; i < v.box.size(); ++i) {
    Json j{{"part", kParts[i]}, {"well", v.box[i].well}};
    if (!v.box[i].well) {
      j["since"] = labels.time(v.box[i].since);
      j["why"] = v.box[i].why;
    }
    list.push_back(std::move(j));
  }
  for (const auto& note : notes)
    if (note.id == kWellOutputNote) list.push_back({{"part", kWellOutputNote}, {"well", note.trouble.empty()}, {"why", note.trouble}, {"since", nullptr}});
  return list;
}

Json head(const Labels& labels) {
  const Site& site = labels.view.site;
  Json j;
  j["format"] = 1;
  j["site"] = Json{{"id", site.id}, {"name", site.name}, {"time_zone", site.time_zone}};
  j["time"] = labels.time(labels.view.now);
  j["engine_ms"] = labels.view.now.time_since_epoch().count();
  j["started_ms"] = labels.view.started.time_since_epoch().count();
  j["watching_since"] = labels.time(labels.view.started);
  return j;
}

std::string printed(const Json& j) { return j.dump(-1, ' ', false, Json::error_handler_t::replace); }

}  // namespace
}  // namespace resources

using namespace resources;

std::string status_json(const SiteView& view, WallOffset offset, const std::vector<LinkNote>& notes, const MessagesNote* messages) {
  const Labels labels{view, offset};
  Json j = head(labels);
  j["alarms"] = alarm_list(labels, std::nullopt);
  j["systems"] = Json::array();
  for (std::size_t i = 0; i < view.site.systems.size(); ++i)
    j["systems"].push_back(system_document(labels, SystemId{static_cast<std::uint16_t>(i)}));
  j["rooms"] = Json::array();
  for (const auto& room : view.site.rooms) j["rooms"].push_back(room_document(view, room));
  j["supplies"] = Json::array();
  for (std::size_t i = 0; i < view.site.supplies.size(); ++i) j["supplies"].push_back(supply_document(view, i, labels));
  j["links"] = Json::array();
  for (std::size_t i = 0; i < view.site.links.size(); ++i) j["links"].push_back(link_document(view, i, labels, notes));
  j["box"] = box_document(view, labels, notes);
  add_people(labels, j);
  if (messages) j["messages"] = messages_document(labels, *messages);
  return printed(j);
}

std::string system_json(const SiteView& view, SystemId system, WallOffset offset) {
  const Labels labels{view, offset};
  Json j = system_document(labels, system);
  j["time"] = labels.time(view.now);
  j["alarms"] = alarm_list(labels, system);
  return printed(j);
}

std::string box_json(const SiteView& view, WallOffset offset, const std::vector<LinkNote>& notes) {
  const Labels labels{view, offset};
  Json j = head(labels);
  j["status"] = "online";
  j["links"] = Json::array();
  for (std::size_t i = 0; i < view.site.links.size(); ++i) j["links"].push_back(link_document(view, i, labels, notes));
  j["box"] = box_document(view, labels, notes);
  return printed(j);
}

std::string alarms_json(const SiteView& view, WallOffset offset) {
  const Labels labels{view, offset};
  Json j = head(labels);
  j["alarms"] = alarm_list(labels, std::nullopt);
  return printed(j);
}

}  // namespace riserkeep
