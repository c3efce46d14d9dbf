#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "daemon/service/commands.h"
#include "daemon/service/resources.h"
#include "rules/engine.h"
#include "tests/daemon/formats/small_site.h"

namespace riserkeep {
namespace {

struct Served {
  Engine engine{testing::small_site(), RuleSettings{}};
  EngineTime now{hours(1)};
  Seq seq{1};
  Effects out;

  void pass(Duration d) {
    now += d;
    engine.step({seq, now, Elapsed{}}, out);
  }
  // Empty: done; else why not.
  std::string ask(std::string_view name, std::string_view body) {
    auto parsed = parse_command(engine.site(), name, body);
    if (const auto* wrong = std::get_if<std::string>(&parsed)) return "400 " + *wrong;
    engine.step({seq, now, std::get<OperatorCommand>(parsed)}, out);
    return engine.refusal();
  }
  nlohmann::json status() const { return nlohmann::json::parse(status_json(engine.view(), 0)); }
  Served() { engine.step({seq, now, WallMapped{0, true}}, out); }
};

TEST_CASE("commands: shelving by the socket, and what status says of it") {
  Served s;
  const std::string id = s.engine.site().systems[0].id;
  CHECK(s.ask("shelve", R"({"by": "Lee", "target": "leak@)" + id + R"(", "for_s": 3600, "why": "parts"})").empty());
  const auto shelved = s.status()["shelved"];
  REQUIRE(shelved.size() == 1);
  CHECK(shelved[0]["target"] == "leak@" + id);
  CHECK(shelved[0]["by"] == "Lee");
  CHECK(shelved[0]["left_s"] == 3600);
  CHECK(shelved[0]["until"] == "1970-01-01T02:00:00.000Z");
  CHECK(s.ask("shelve", R"({"by": "Lee", "target": "leak@)" + id + R"(", "for_s": -1})").starts_with("400 \"for_s\" must be"));
  CHECK(s.ask("shelve", R"({"by": "Lee", "target": "leak@)" + id + R"("})").starts_with("for how long?"));
  CHECK(s.ask("unshelve", R"({"by": "Lee", "target": "leak@)" + id + R"("})").empty());
  CHECK(s.status()["shelved"].empty());
}

TEST_CASE("commands: out of service, and back") {
  Served s;
  const std::string id = s.engine.site().systems[1].id;
  CHECK(s.ask("out-of-service", R"({"by": "Lee", "target": ")" + id + R"("})").starts_with("why?"));
  CHECK(s.ask("out-of-service", R"({"by": "Lee", "target": ")" + id + R"(", "why": "drained"})").empty());
  CHECK(s.status()["out_of_service"][0]["why"] == "drained");
  CHECK(s.ask("out-of-service", R"({"by": "Lee", "target": ")" + id + R"(", "out": false})").empty());
  CHECK(s.status()["out_of_service"].empty());
}

TEST_CASE("commands: work from start to the checklist") {
  Served s;
  const std::string id = s.engine.site().systems[0].id, system = R"("system": ")" + id + R"(")";
  CHECK(s.ask("work-start", R"({"by": "Lee", "what": "gaskets", )" + system + "}").starts_with("until when?"));
  CHECK(s.ask("work-start", R"({"by": "Lee", "what": "gaskets", "for_s": 7200, )" + system + "}").empty());
  CHECK(s.status()["work"][0]["what"] == "gaskets");
  CHECK(s.status()["work"][0]["over_s"].is_null());
  s.pass(hours(3));
  CHECK(s.status()["work"][0]["over_s"] == 3600);
  CHECK(s.ask("work-end", R"({"by": "Lee", "gas": "air", )" + system + "}").starts_with("not said: valve reset"));
  CHECK(s.ask("work-end", R"({"by": "Lee", "gas": "air", "reset": true, "drained": true, "water_valve_open": true, )" + system + "}").empty());
  CHECK(s.status()["work"].empty());
  CHECK(s.engine.view().vents[0].ledger.mean() == doctest::Approx(0.2095));
}

TEST_CASE("commands: chores and repairs") {
  Served s;
  const std::string place = R"("place": ")" + s.engine.site().systems[0].id + R"(")";
  CHECK(s.ask("chore", R"({"by": "Lee", "chore": "gauge-comparison", "as_found": 0.4, )" + place + "}").empty());
  CHECK(s.ask("chore", R"({"by": "Lee", "chore": "sweeping", )" + place + "}").find("there are: gauge-comparison") != std::string::npos);
  CHECK(s.ask("chore", R"({"by": "Lee", "chore": "leak-test", "place": "attic"})").find("there is no place") != std::string::npos);
  CHECK(s.ask("repair", R"({"by": "Lee", "what": "drain replaced", )" + place + "}").empty());
  CHECK(std::get<Note>(s.out.back().effect).text == "repair by Lee: drain replaced");
}

}  // namespace
}  // namespace riserkeep
