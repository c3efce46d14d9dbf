#include "daemon/formats/event_json.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "rules/units.h"
#include "tests/daemon/formats/small_site.h"

using namespace riserkeep;
using riserkeep::testing::small_site;

namespace {
const EngineTime kAt{Duration{90'000}};
const WallTime kWall{1'950'000'090'000};  // 2031-10-17T10:41:30Z
std::string line(const Effect& e, std::optional<WallTime> wall = kWall) { return event_json(small_site(), 7, wall, kAt, e); }
}  // namespace

TEST_CASE("an alarm as one line, keys in the documented order") {
  AlarmChanged a;
  a.id = OccurrenceId{12};
  a.reference = "7K6";
  a.alarm = ClassId::near_trip;
  a.place = SystemId{0};
  a.since = EngineTime{Duration{60'500}};
  a.value = 21.2;
  a.unit = "psi";
  a.text = "Loading dock \"21.2 psi\"";
  a.priority = Priority::critical;
  a.category = Category::safety;
  a.state = AlarmState::unacknowledged;
  CHECK(line(a) ==
        R"({"seq":7,"time":"2031-10-17T10:41:30.000Z","kind":"alarm","point":"loading-dock","alarm":"near-trip","change":"raised",)"
        R"("state":"unacknowledged","priority":"critical","category":"safety","since":"2031-10-17T10:41:00.500Z","value":21.200,)"
        R"("limit":null,"unit":"psi","cause":"","text":"Loading dock \"21.2 psi\"","first_action":"","id":12,"reference":"7K6"})");
}

TEST_CASE("a notice as one line: who, about which alarms, in words") {
  Site site = small_site();
  site.people.resize(2);
  site.people[0].id = "night";
  site.people[1].id = "works";
  Notice n;
  n.id = NoticeId{31};
  n.kind = NoticeKind::still_bad;
  n.to = {PersonId{1}, PersonId{0}};
  n.references = {"7K6", "7L2"};
  n.place = SystemId{0};
  n.priority = Priority::high;
  n.since = EngineTime{Duration{60'500}};
  n.subject = "QM-014: HIGH";
  n.short_text = "HIGH Loading dock";
  n.long_text = "HIGH\nLoading dock";
  CHECK(event_json(site, 7, kWall, kAt, n) ==
        R"({"seq":7,"time":"2031-10-17T10:41:30.000Z","kind":"notice","point":"loading-dock","notice":31,"what":"still_bad",)"
        R"("to":["works","night"],"alarms":["7K6","7L2"],"priority":"high","since":"2031-10-17T10:41:00.500Z","subject":"QM-014: HIGH",)"
        R"("short":"HIGH Loading dock","long":"HIGH\nLoading dock","about_delivery":false})");
  CHECK(event_json(site, 7, kWall, kAt, Notice{}).find(R"("to":[],"alarms":[])") != std::string::npos);
}

TEST_CASE("without a known wall clock the time is null and the engine's own time is told") {
  CHECK(line(Note{PlaceId{}, "started"}, std::nullopt) ==
        R"({"seq":7,"time":null,"engine_ms":90000,"kind":"note","point":"box","text":"started"})");
}

TEST_CASE("what is not known is null and never a number") {
  const auto j = nlohmann::json::parse(line(LeakEstimate{SystemId{1}, {}}));
  CHECK(j["observable"] == false);
  CHECK(j["psi_per_24h"].is_null());
  CHECK(j["hole_mm"].is_null());
  const auto p = nlohmann::json::parse(line(PurityEstimate{SystemId{1}, {}}));
  CHECK(p["oxygen_percent"].is_null());
  CHECK(p["age_s"].is_null());
  CHECK(p["target_at"].is_null());
}

TEST_CASE("every kind of event is a JSON object with seq, time, kind and point first") {
  const std::vector<Effect> effects{VentEvent{OutputId{1}, VentChange::open, OrderNo{3}, "first\nsecond"},
                                    RefillSeen{SystemId{0}, kAt, seconds(90), psi(4.5), RefillCause::leak},
                                    LeakEstimate{SystemId{0}, {}}, PurityEstimate{SystemId{0}, {}},
                                    Note{LinkId{0}, "\xff bad byte"}, AlarmChanged{}};
  for (const Effect& e : effects) {
    REQUIRE(is_event(e));
    const std::string text = line(e);
    CHECK(text.find('\n') == std::string::npos);
    const auto j = nlohmann::ordered_json::parse(text);
    auto key = j.begin();
    for (const char* expected : {"seq", "time", "kind", "point"}) CHECK((key++).key() == expected);
    CHECK(j["kind"] == std::string{event_kind(e)});
  }
  CHECK(nlohmann::json::parse(line(effects[1]))["psi"] == 4.5);
  CHECK(!is_event(OutputOrder{}));
  CHECK(event_json(small_site(), 1, kWall, kAt, OutputOrder{}).empty());
}

TEST_CASE("strings follow RFC 8259 section 7 and stay UTF-8") {
  CHECK(json_string("a\"b\\c\td\x01") == "\"a\\\"b\\\\c\\td\\u0001\"");
  CHECK(json_string("\xC3\xA9\xE2\x82\xAC\xF0\x9F\x94\xA7") == "\"\xC3\xA9\xE2\x82\xAC\xF0\x9F\x94\xA7\"");
  // Overlong, surrogate, past U+10FFFF and cut sequences are no UTF-8 (RFC 3629 section 3).
  for (const char* bad : {"\xC0\x80", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xE2\x82", "\xFF"}) {
    const auto j = nlohmann::json::parse(json_string(bad), nullptr, false);
    CHECK(j.is_string());
    CHECK(j.get<std::string>().find("\xEF\xBF\xBD") == 0);
  }
}
