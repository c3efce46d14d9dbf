#include "daemon/render/people.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

namespace riserkeep::render {
namespace {

TEST_CASE("status tells who silenced what, who works where and what nobody looked at") {
  const Json j = parsed(R"({
    "work": [{"name": "Loading dock", "what": "new gaskets", "by": "Lee", "until": "2026-11-25T10:00:00.000Z", "over_s": 720, "quiet": true},
             {"name": "Archive", "what": "weekly test", "by": "", "until": "2026-11-25T12:00:00.000Z", "over_s": null, "quiet": true}],
    "shelved": [{"target": "leak@roof-void", "by": "Lee", "why": "parts ordered", "until": "2026-11-26T08:00:00.000Z"}],
    "out_of_service": [{"target": "canopy", "by": "Ada", "why": "drained", "for_s": 864000}],
    "chores_overdue": [{"place": "Archive", "chore": "gauge comparison", "due": "2026-11-20T08:00:00.000Z", "done": null,
                        "never_since": "2026-08-22T08:00:00.000Z"}],
    "alarm_figures": {"last_7_d": 12, "last_hour": 3, "peak_10_min_7d": 4, "flood": false, "stale": ["leak@roof-void"],
                      "chattering": [], "top": [{"point": "leak@roof-void", "raises": 5}]}})");
  CHECK(people_lines(j, "UTC") ==
        "Work on Loading dock: new gaskets, by Lee, was to end Wed 25 Nov 10:00, 12 min\n"
        "ago. Vent locked, expected alarms quiet.\n"
        "Work on Archive: weekly test, until Wed 25 Nov 12:00. Vent locked, expected\n"
        "alarms quiet.\n"
        "Shelved: leak@roof-void by Lee until Thu 26 Nov 08:00: parts ordered.\n"
        "Out of service: canopy by Ada, 10 d: drained.\n"
        "Nobody looked: Archive, gauge comparison, due Fri 20 Nov 08:00; never since Sat\n"
        "22 Aug 08:00.\n"
        "Alarms told: 3 in the last hour, 12 in 7 d, at most 4 in 10 min; most:\n"
        "leak@roof-void (5); over a day: 1.\n");
  CHECK(people_lines(Json::object(), "UTC").empty());
}

TEST_CASE("an alarm that rests says why in its second line") {
  const Json j = parsed(R"({"rest": {"reason": "work", "by": "Lee", "why": "work: gaskets", "until": "2026-11-25T10:00:00.000Z"}})");
  CHECK(rest_text(j, "UTC") == "quiet by Lee until Wed 25 Nov 10:00: work: gaskets");
  CHECK(rest_text(parsed(R"({"rest": {"reason": "suppressed", "by": "", "why": "explained by link-lost@bus, 7K6", "until": null}})"), "UTC") ==
        "quiet: explained by link-lost@bus, 7K6");
  CHECK(rest_text(Json::object(), "UTC").empty());
}

}  // namespace
}  // namespace riserkeep::render
