#include "daemon/render/status.h"

#include <doctest/doctest.h>

#include <stdexcept>

#include "daemon/render/why.h"

namespace riserkeep {
namespace {

TEST_CASE("the ladder puts each mark at its 2 psi column") {
  CHECK(ladder_text({31, 48, 28, true, 18.2, true, 35.7}, 50) == ".........T....l.[-*-----].");
  CHECK(ladder_text({23.5, 36, 20, true, 13, true, 27.6}, 50).size() == 26);
  CHECK(ladder_text({16, 24, 12, false, 0, true, 0}, 50).front() == '*');
  CHECK(ladder_text({16, 24, 12, false, 0, true, 900}, 50).back() == '*');
}

const char* const kStatus = R"({"site": {"id": "QM-014", "name": "Quillmere", "time_zone": "UTC"}, "time": "2026-11-25T10:12:07.000Z",
 "alarms": [{"reference": "7K6", "place": "Archive", "priority": "high", "state": "unacknowledged", "what": "air is low",
   "value": 13.6, "limit": 16, "unit": "psi", "decimals": 1, "since": "2026-11-25T09:46:00.000Z", "for_s": 1560, "cause": "",
   "act": "read the air gauge"}],
 "systems": [{"name": "Archive", "air": {"psi": 13.6, "band_low_psi": 16, "band_high_psi": 24, "low_air_psi": 12, "trip_psi": null,
   "in_band": false}, "purity": {"purity_percent": null}, "vent": {"state": "shut"}},
  {"name": "Canopy", "air": {"psi": null, "why_not": "stale", "band_low_psi": 20, "band_high_psi": 30, "low_air_psi": 18,
   "trip_psi": 9, "in_band": null}, "purity": null, "vent": null}],
 "rooms": [], "supplies": [], "links": [], "box": []})";

TEST_CASE("status says first what needs a person, within 80 columns of ASCII") {
  const std::string text = render_status(kStatus, {});
  CHECK(text ==
        "Quillmere QM-014                                    Wed 25 Nov 2026 10:12:07 UTC\n"
        "1 needs you. First: ARCHIVE, read the air gauge.\n"
        "\n"
        "HIGH   7K6 Archive    air is low: 13.6 psi, limit 16.0, since 09:46 (26 min)\n"
        "                      read the air gauge\n"
        "\n"
        "SYSTEM           AIR  0    10   20   30   40  50  PURITY, GRADE, AGE      VENT\n"
        "Archive      !  13.6  ......l*[---].............  not known               shut\n"
        "Canopy             -  not read: stale             not measured            none\n"
        "\n"
        "The fire panel rules.\n");
  CHECK(render_status(kStatus, Style{true}).find("\x1b[1;31m") != std::string::npos);
}

TEST_CASE("status tells of messages that do not get out, and of none that do") {
  const std::string whole = kStatus;
  const auto with = [&](const std::string& messages) {
    const std::string text = render_status(whole.substr(0, whole.size() - 1) + ", \"messages\": " + messages + "}", {});
    return text.substr(text.find("none\n\n") + 6);
  };
  CHECK(with(R"({"people": 2, "undelivered": 0, "given_up_since_start": 0, "ways": [{"way": "mail", "last_error": null}]})") ==
        "The fire panel rules.\n");
  CHECK(with(R"({"people": 2, "undelivered": 3, "oldest_age_s": 1560, "given_up_since_start": 1, "ways": [{"way": "mail",
    "last_error": "mail.example.org:587 offers no STARTTLS, so nothing was sent"}],
    "heartbeat": "HTTP status 503"})") ==
        "Messages: 3 not delivered yet, the oldest 26 min old.\n"
        "Messages: 1 given up since the start.\n"
        "Messages by mail: mail.example.org:587 offers no STARTTLS, so nothing was sent,\n"
        "since an unknown time.\n"
        "Heartbeat: HTTP status 503.\n"
        "The fire panel rules.\n");
  CHECK(with(R"({"people": 1, "undelivered": 0, "given_up_since_start": 0, "ways": []})").starts_with("Messages: nobody can be told anything"));
}

TEST_CASE("an answer of another version is refused in words") {
  CHECK_THROWS_AS(render_status("{}", {}), std::runtime_error);
  CHECK_THROWS_AS(render_status("[", {}), std::runtime_error);
  CHECK_THROWS_AS(render_why("{\"site\": {}}", {}), std::runtime_error);
}

TEST_CASE("text is wrapped by words, long ones are broken, names cannot move the cursor") {
  CHECK(wrapped("aa bb cc", 5) == std::vector<std::string>{"aa bb", "cc"});
  CHECK(wrapped("abcdefgh", 3) == std::vector<std::string>{"abc", "def", "gh"});
  CHECK(without_controls("a\x1b[2Jb") == "a?[2Jb");
  CHECK(width("D\xC3\xA9p\xC3\xB4t") == 5);
}

}  // namespace
}  // namespace riserkeep
