// What people shelved, took out, work on and have not looked at; and what the alarms ask of them.
#include <nlohmann/json.hpp>

#include "daemon/service/resources_parts.h"
#include "rules/alarms/board.h"
#include "rules/alarms/statistics.h"
#include "rules/alarms/target.h"
#include "rules/text.h"
#include "rules/tasks/chores.h"
#include "rules/tasks/windows.h"

namespace riserkeep::resources {
namespace {

Json shelved_list(const Labels& labels) {
  Json list = Json::array();
  for (const Shelved& s : labels.view.alarms.shelf().shelved())
    list.push_back(Json{{"target", target_text(labels.view.site, s.target)}, {"by", s.who}, {"why", s.why},
                        {"since", labels.time(s.since)}, {"until", labels.time(s.until)},
                        {"left_s", -labels.age(s.until).get<std::int64_t>()}, {"until_clear", s.until_clear}});
  return list;
}

Json out_list(const Labels& labels) {
  Json list = Json::array();
  for (const OutOfServiceRecord& r : labels.view.alarms.shelf().out())
    list.push_back(Json{{"target", target_text(labels.view.site, r.target)}, {"by", r.who}, {"why", r.why},
                        {"since", labels.time(r.since)}, {"for_s", labels.age(r.since)}});
  return list;
}

Json work_list(const Labels& labels) {
  Json list = Json::array();
  if (!labels.view.work) return list;
  for (const WorkWindow& w : labels.view.work->open())
    list.push_back(Json{{"system", labels.view.site[w.system].id}, {"name", labels.view.site[w.system].name}, {"what", w.what},
                        {"by", w.who}, {"since", labels.time(w.since)}, {"until", labels.time(w.until)},
                        {"over_s", labels.view.now >= w.until ? labels.age(w.until) : Json(nullptr)},
                        {"recurring", w.recurring.has_value()}, {"quiet", !w.quiet_ended}});
  return list;
}

Json overdue_list(const Labels& labels) {
  Json list = Json::array();
  if (!labels.view.chores) return list;
  const Site& site = labels.view.site;
  for (const auto& o : labels.view.chores->overdue(site, labels.view.now)) {
    const Chore& c = site.chores[o.chore];
    Json j{{"chore", word(c.kind)}, {"point", place_id(site, c.place)}, {"place", place_name(site, c.place)},
           {"due", labels.time(o.since)}, {"late_s", labels.age(o.since)}, {"done", labels.time(o.done)}};
    if (o.done) j["by"] = o.by;
    else j["never_since"] = labels.time(o.first_seen);
    list.push_back(std::move(j));
  }
  return list;
}

Json counts(const Site& site, const std::vector<PointCount>& list) {
  Json out = Json::array();
  for (const PointCount& c : list)
    out.push_back(Json{{"point", target_text(site, {c.point.alarm, c.point.place})}, {"raises", c.raises}});
  return out;
}

Json figures_document(const Labels& labels) {
  if (!labels.view.statistics) return nullptr;
  const AlarmFigures f = labels.view.statistics->figures(labels.view.alarms, labels.view.now);
  Json stale = Json::array();
  for (const AlarmPoint& p : f.stale) stale.push_back(target_text(labels.view.site, {p.alarm, p.place}));
  return Json{{"observed_h", rounded(in_hours(f.observed), 1)}, {"last_10_min", f.last_10_min}, {"peak_10_min_7d", f.peak_10_min},
              {"last_hour", f.last_hour}, {"last_24_h", f.last_24_h}, {"last_7_d", f.last_7_d}, {"quiet_7_d", f.rested_7_d},
              {"mean_per_10_min", rounded(f.per_10_min, 3)}, {"hours_above_30", f.hours_above_30},
              {"periods_above_10", f.periods_above_10}, {"flood", f.flood}, {"in_flood_s_7d", in_seconds(f.in_flood)},
              {"stale", std::move(stale)}, {"chattering", counts(labels.view.site, f.chattering)}, {"top", counts(labels.view.site, f.top)}};
}

}  // namespace

void add_people(const Labels& labels, Json& j) {
  j["shelved"] = shelved_list(labels);
  j["out_of_service"] = out_list(labels);
  j["work"] = work_list(labels);
  j["chores_overdue"] = overdue_list(labels);
  j["alarm_figures"] = figures_document(labels);
}

Json rest_document(const Labels& labels, ClassId alarm, PlaceId place) {
  const auto rest = labels.view.alarms.rests(alarm, place);
  if (!rest) return nullptr;
  Json j{{"reason", word(rest->reason)}, {"by", rest->who}, {"why", rest->why}, {"until", labels.time(rest->until)}};
  if (rest->by) j["explained_by"] = target_text(labels.view.site, {rest->by->alarm, rest->by->place});
  return j;
}

}  // namespace riserkeep::resources
