// The alarm table. Text length: one message of 160 septets, GSM 7-bit alphabet (3GPP TS 23.038 6.2.1).
#include "rules/judge/classes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>

#include "rules/text.h"

using namespace riserkeep;

namespace {

std::array<ClassId, kClassCount> every_class() {
  std::array<ClassId, kClassCount> out{};
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = static_cast<ClassId>(i);
  return out;
}

Site site_called(const std::string& name, bool vents_in) {
  Site site;
  Room room;
  room.id = room.name = "east";
  room.vents_into_room = vents_in;
  site.rooms = {room};
  System s;
  s.id = "s";
  s.name = name;
  site.systems = {s};
  return site;
}

bool has(std::string_view text, std::string_view word) {
  const auto same = [](char a, char b) { return (a | 32) == (b | 32); };
  return std::ranges::search(text, word, same).begin() != text.end();
}

}  // namespace

TEST_CASE("classes: every one has its words and its first act") {
  for (const ClassId c : every_class()) {
    const AlarmClass& row = class_of(c);
    CAPTURE(word(c));
    CHECK(row.id == c);
    CHECK_FALSE(row.what.empty());
    CHECK_FALSE(row.act.empty());
    CHECK_FALSE(row.first_action.empty());
    CHECK((row.category == Category::safety) == (row.priority == Priority::critical));
    CHECK_FALSE(row.suppressed_by.has(c));
    CHECK(row.latching == (c == ClassId::valve_operated));
  }
}

TEST_CASE("classes: a first act never sends anyone into bad air or to a water valve") {
  for (const ClassId c : every_class())
    for (const std::string_view text : {class_of(c).act, class_of(c).first_action}) {
      CAPTURE(text);
      for (const char* no : {"enter the", "go into", "water valve", "control valve", "shut off the water", "close the water",
                             "please", "warning", "error", "!"})
        CHECK_FALSE(has(text, no));
    }
  const Site inside = site_called("Loading dock", true), outside = site_called("Loading dock", false);
  CHECK(has(first_action(inside, ClassId::pressure_low, SystemId{0}), "stay out while it is below 19.5 %"));
  CHECK_FALSE(has(first_action(outside, ClassId::pressure_low, SystemId{0}), "oxygen"));
  CHECK(first_action(inside, ClassId::room_oxygen, RoomId{0}).starts_with("Nobody enters."));
}

TEST_CASE("classes: the short text fits one message whatever the name and the cause") {
  std::string umlauts;
  for (int i = 0; i < 60; ++i) umlauts += "ü";
  for (const std::string& name : {std::string{"Dock"}, std::string(60, 'W'), umlauts, std::string{"{[~|^\\]}"}, std::string{"倉庫"}})
    for (const bool inside : {false, true})
      for (const ClassId c : every_class()) {
        const Site site = site_called(name, inside);
        Occurrence o{c, SystemId{0}, Priority::critical, EngineTime{}, 12345.6, 12345.6, "psi in 24 h",
                     "a cause that goes on and on, longer than anyone would wish to read at night, and on", "7K6A"};
        const EngineTime now{hours(1000) + minutes(59)};
        for (const std::string& text : {alarm_text(site, o, now), cleared_text(site, o, now)}) {
          CAPTURE(text);
          CHECK(gsm_length(text) <= kShortText);
          CHECK(text.ends_with("Ref 7K6A"));
          CHECK(gsm_only(text) == text);
        }
      }
}

TEST_CASE("classes: the text tells place, value, limit, time, act and reference") {
  const Site site = site_called("Archive", false);
  const Occurrence o{ClassId::pressure_low, SystemId{0}, Priority::high, EngineTime{}, 13.62, 16.0, "psi", {}, "7K6"};
  CHECK(alarm_text(site, o, EngineTime{minutes(26)}) ==
        "HIGH Archive: air is low 13.6 psi, limit 16.0, for 26 min. Check feed and drains. Ref 7K6");
  CHECK(cleared_text(site, o, EngineTime{minutes(41)}) == "Archive: over after 41 min: air is low. Ref 7K6");
  CHECK(gsm_only("Tür 5 {ab} 倉 €\n") == "Tür 5 (ab) ? ? ");
}
