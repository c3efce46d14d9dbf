// All texts rendered into docs/messages.md, for reading and judging; RISERKEEP_WRITE_DOCS=1 writes it anew.
// Length and letters: one message of 160 septets, GSM 7-bit alphabet (3GPP TS 23.038, 6.2.1).
#include <doctest/doctest.h>

#include <cstdlib>
#include <fstream>
#include <iterator>

#include "rules/notices/message.h"
#include "rules/notices/outlook.h"
#include "rules/notices/paragraph.h"
#include "tests/rules/notices/watch.h"

using namespace riserkeep;

namespace {

constexpr NoticeKind kTopicKinds[] = {NoticeKind::alarm, NoticeKind::reminder, NoticeKind::escalation, NoticeKind::still_bad,
                                      NoticeKind::unstable, NoticeKind::back_to_normal};

PlaceId usual_place(ClassId c) {
  switch (c) {
    case ClassId::room_oxygen: case ClassId::room_cold: return RoomId{0};
    case ClassId::supply_failed: case ClassId::supply_purity_low: case ClassId::supply_is_air: return SupplyId{0};
    case ClassId::link_lost: return LinkId{0};
    case ClassId::history_fault: case ClassId::messages_undelivered: case ClassId::clock_unsure: case ClassId::config_rejected: return {};
    default: return SystemId{0};
  }
}

struct Figures { double value, limit; std::string cause; };

Figures figures(ClassId c) {
  switch (c) {
    case ClassId::valve_operated: return {2.1, 31, "air collapsed and waterflow"};
    case ClassId::rapid_loss: return {4.2, 3, ""};
    case ClassId::near_trip: return {22.9, 23.2, "trip point 18.2 psi"};
    case ClassId::vent_stuck_open: return {31.9, 32.2, "falls on after the close"};
    case ClassId::room_oxygen: return {19.1, 19.5, "too little oxygen"};
    case ClassId::pressure_low: return {30.4, 31, ""};
    case ClassId::pressure_high: return {48.6, 48, ""};
    case ClassId::supply_failed: return {31, 30, "Loading dock stays at 33.0 psi"};
    case ClassId::supply_purity_low: return {1.9, 1.5, "target 2.0 %"};
    case ClassId::supply_is_air: return {20.9, 15, "air bypass is open"};
    case ClassId::vent_blocked: return {0.1, 0.5, "open, yet the pressure did not move"};
    case ClassId::link_lost: return {0, 0, "Loading dock pressure and 5 more"};
    case ClassId::room_cold: return {39.4, 40, ""};
    case ClassId::leak: return {4.1, 1.5, ""};
    case ClassId::leak_growing: return {1.6, 0.9, "from 0.90 in 21 days"};
    case ClassId::refill_frequent: return {9, 6, ""};
    case ClassId::purity_low: return {2.6, 2.0, ""};
    case ClassId::purity_stall: return {3.4, 2.0, "supply purity too low"};
    case ClassId::purge_overdue: return {24, 21, ""};
    case ClassId::instrument_fault: return {0, 0, "pressure failed low"};
    case ClassId::output_mismatch: return {0, 0, "told to shut, reads open"};
    case ClassId::messages_undelivered: return {0, 0, "3 messages wait, the oldest 2 h"};
    case ClassId::clock_unsure: return {0, 0, "no time server answers"};
    case ClassId::config_rejected: return {0, 0, "line 41: unknown key"};
    default: return {0, 0, "disk full"};
  }
}

// A house whose dock has come down to `psi` and whose archive is not measured.
struct Rendered : Watch {
  explicit Rendered(double psi = 35.6, double psi_per_hour = 2.4) {
    site.people.clear();
    const int length = psi_per_hour > 100 ? 150 : 600;
    for (int t = 0; t <= length; t += 2) {
      read(dock_air, psi + (length - t) / 3600.0 * psi_per_hour);
      for (const ChannelId c : {dock_low, dock_flow, bypass}) read(c, 0);
      read(room_o2, 20.8);
      read(room_temp, 10);
      read(cell, 1.4);
      now += seconds(2);
    }
  }
  void kind(SystemKind k, ValveKind v) {
    System& s = site.systems[0];
    s.kind = k;
    s.valve.kind = v;
    const bool sheet = k == SystemKind::preaction_non || v != ValveKind::differential;
    s.valve.trips_at = sheet ? std::optional{psig(13)} : std::nullopt;
  }
  Topic topic(ClassId c, const Figures& f, PlaceId place) const {
    Member m;
    m.id = OccurrenceId{31'000};
    m.alarm = c;
    m.place = place;
    m.priority = class_of(c).priority;
    m.since = now - minutes(26);
    if (const auto unit = class_of(c).unit; !unit.empty()) {
      m.value = f.value;
      m.limit = f.limit;
      m.unit = unit;
    }
    m.cause = f.cause;
    Topic t;
    t.members = {m};
    t.opened = now - minutes(25);
    t.raises = 4;
    t.unstable_from = now - minutes(41);
    return t;
  }
  Draft draft(Topic t, NoticeKind k) const {
    if (k == NoticeKind::back_to_normal) {
      t.over = now - minutes(15);
      for (Member& m : t.members) m.ended = t.over;
    }
    t.unstable = k == NoticeKind::unstable;
    return draft_of(view(), 1, t, k);
  }
};

constexpr struct { SystemKind kind; ValveKind valve; } kValves[] = {
    {SystemKind::dry_pipe, ValveKind::differential}, {SystemKind::dry_pipe, ValveKind::latched},
    {SystemKind::dry_pipe, ValveKind::low_differential}, {SystemKind::preaction_single, ValveKind::latched},
    {SystemKind::preaction_non, ValveKind::latched}, {SystemKind::preaction_double, ValveKind::latched}};

Rendered dock_during(ClassId c) {
  switch (c) {
    case ClassId::valve_operated: return Rendered{2.1, 0};
    case ClassId::rapid_loss: return Rendered{32.4, 252};
    case ClassId::near_trip: return Rendered{22.9, 14.1};
    case ClassId::vent_stuck_open: return Rendered{31.9, 20};
    case ClassId::pressure_low: return Rendered{30.4, 2.4};
    case ClassId::pressure_high: return Rendered{48.6, 0};
    default: return Rendered{};
  }
}

const std::string kLongest = "North-western cold store and loading dock, upper mezzanine W";

std::string document() {
  std::string out =
      "# Messages\n\nGenerated from the code by the tests; to change a text, change the code. Every short text is one text message of at most\n"
      "160 letters of the GSM 7-bit alphabet. Below each class: the alarm, the same with the longest name and value, the reminder, one\n"
      "that comes and goes, and back to normal; then the paragraph. The site, its names and its figures are invented.\n";
  Rendered longest;
  longest.site.systems[0].name = longest.site.rooms[0].name = longest.site.supplies[0].name = kLongest;
  for (std::size_t i = 0; i < kClassCount; ++i) {
    const auto c = static_cast<ClassId>(i);
    out += "\n## " + std::string{word(c)} + "\n\n";
    const Figures f = figures(c);
    const Figures large{-12345.6, 12345.6, "a cause with many words that nobody would read to its end at night"};
    const Rendered plain = dock_during(c);
    const Topic t = plain.topic(c, f, usual_place(c));
    const auto line = [&](const Draft& d) { out += "- " + d.short_text + " *(" + std::to_string(gsm_length(d.short_text)) + ")*\n"; };
    line(plain.draft(t, NoticeKind::alarm));
    line(longest.draft(longest.topic(c, large, usual_place(c)), NoticeKind::alarm));
    line(plain.draft(t, NoticeKind::reminder));
    line(plain.draft(t, NoticeKind::unstable));
    line(plain.draft(t, NoticeKind::back_to_normal));
    out += "\n```\n" + plain.draft(t, NoticeKind::alarm).long_text + "```\n";
  }
  out += "\n## What losing the air means, by valve\n\n";
  Rendered plain;
  for (const auto& v : kValves) {
    plain.kind(v.kind, v.valve);
    out += "- " + valve_words(plain.site.systems[0]) + "\n";
  }
  return out;
}

bool has(std::string_view text, std::string_view part) {
  const auto same = [](char a, char b) { return (a | 32) == (b | 32); };
  return std::ranges::search(text, part, same).begin() != text.end();
}

}  // namespace

TEST_CASE("messages: docs/messages.md is what the code says") {
  const std::string path = std::string{RISERKEEP_SOURCE_DIR} + "/docs/messages.md";
  const std::string wanted = document();
  if (std::getenv("RISERKEEP_WRITE_DOCS")) std::ofstream(path, std::ios::binary) << wanted;
  std::ifstream in(path, std::ios::binary);
  const std::string is{std::istreambuf_iterator<char>(in), {}};
  const bool same = is == wanted;
  CHECK_MESSAGE(same, path << " is not up to date: run the rules tests with RISERKEEP_WRITE_DOCS=1");
}

TEST_CASE("messages: every short text fits one text message, whatever the kind, the name and the value") {
  std::string umlauts;
  for (int i = 0; i < 60; ++i) umlauts += "ü";
  for (const std::string& name : {std::string{"Dock"}, kLongest, umlauts, std::string{"{[~|^\\]}"}, std::string{"倉庫"}})
    for (const auto& v : kValves)
      for (const bool inside : {false, true}) {
        Rendered r;
        r.kind(v.kind, v.valve);
        r.systems(4);
        r.site.rooms[0].vents_into_room = inside;
        if (!inside) r.site.rooms[0].oxygen.reset();
        r.site.systems[0].name = r.site.rooms[0].name = r.site.supplies[0].name = r.site.links[0].id = name;
        for (std::size_t i = 0; i < kClassCount; ++i)
          for (const NoticeKind k : kTopicKinds)
            for (const double value : {0.0, -0.04, 12345.678, -99999.9}) {
              const auto c = static_cast<ClassId>(i);
              Topic t = r.topic(c, {value, value, "a cause that goes on and on, longer than anyone would wish to read at night"}, usual_place(c));
              if (value < 0)
                for (std::uint16_t m = 1; m < 4; ++m) {
                  t.members.push_back(t.members[0]);
                  t.members.back().place = SystemId{m};
                }
              const Draft d = r.draft(t, k);
              CAPTURE(d.short_text);
              CHECK(gsm_length(d.short_text) <= kShortText);
              CHECK(gsm_only(d.short_text) == d.short_text);
              CHECK(d.short_text.ends_with("Ref " + reference_of(OccurrenceId{31'000})));
              CHECK(d.subject.find('\n') == std::string::npos);
            }
      }
}

TEST_CASE("messages: a paragraph says place, value, limit, how long, what follows, first act, acknowledgement") {
  Rendered r;
  for (std::size_t i = 0; i < kClassCount; ++i) {
    const auto c = static_cast<ClassId>(i);
    const Topic t = r.topic(c, figures(c), usual_place(c));
    const std::string text = r.draft(t, NoticeKind::alarm).long_text;
    CAPTURE(text);
    CHECK(has(text, place_name(r.site, usual_place(c))));
    CHECK(has(text, "for 26 min"));
    CHECK(has(text, "What follows: "));
    CHECK(has(text, "First: "));
    CHECK(has(text, "riserkeep ack " + reference_of(OccurrenceId{31'000}) + " --by NAME"));
    if (!class_of(c).unit.empty()) CHECK(has(text, "limit"));
    for (const char* no : {"enter the", "go into", "water valve", "control valve", "shut off the water", "close the water", "please", "warning", "error", "!", "complies"})
      CHECK_FALSE(has(text, no));
  }
}

TEST_CASE("messages: the paragraph knows the kind of valve") {
  Rendered r;
  const auto text = [&](SystemKind k, ValveKind v) {
    r.kind(k, v);
    return r.draft(r.topic(ClassId::pressure_low, {30.4, 31, ""}, SystemId{0}), NoticeKind::alarm).long_text;
  };
  // 35.6 psi, falling 2.4 psi an hour: 28 psi after 3.17 h; 18.2 psi (100 / 5.5) after 7.26 h.
  const std::string dry = text(SystemKind::dry_pipe, ValveKind::differential);
  CHECK(has(dry, "differential valve (5.5 to 1): it opens near 18.2 psi"));
  CHECK(has(dry, "Low air (28.0 psi) in about 3 h 1"));
  CHECK(has(dry, "the trip point (18.2 psi) in about 7 h 1"));
  CHECK(has(text(SystemKind::dry_pipe, ValveKind::latched), "mechanically latched valve: its actuator lets go near 13.0 psi"));
  CHECK(has(text(SystemKind::preaction_single, ValveKind::latched), "losing the air alone admits no water"));
  CHECK(has(text(SystemKind::preaction_double, ValveKind::latched), "half of the release condition is met"));
  CHECK(has(text(SystemKind::preaction_non, ValveKind::latched), "losing the air alone opens the valve near 13.0 psi"));
  CHECK_FALSE(has(text(SystemKind::preaction_single, ValveKind::latched), "the trip point"));
}

TEST_CASE("messages: the short text says how long it takes where that is known") {
  const auto text = [](const Rendered& r, ClassId c) { return r.draft(r.topic(c, {0, 0, ""}, SystemId{0}), NoticeKind::alarm).short_text; };
  CHECK(has(text(Rendered{30.4, 2.4}, ClassId::pressure_low), "(low air in 1 h)"));        // (30.4 - 28) / 2.4
  CHECK(has(text(Rendered{22.9, 14.1}, ClassId::near_trip), "(trip in 20 min)"));          // (22.9 - 18.18) / 14.1
  CHECK_FALSE(has(text(Rendered{30.4, 0}, ClassId::pressure_low), "low air in"));
  Rendered single{22.9, 14.1};
  single.kind(SystemKind::preaction_single, ValveKind::latched);
  CHECK_FALSE(has(text(single, ClassId::pressure_low), "trip in"));
}

TEST_CASE("messages: old readings are named with their age, unknown times are said to be") {
  Rendered r;
  r.now += minutes(10);
  const std::string text = r.draft(r.topic(ClassId::pressure_low, {30.4, 31, ""}, SystemId{0}), NoticeKind::alarm).long_text;
  CHECK(has(text, "The air is not measured now: time to low air not known."));
  CHECK(has(text, "pressure (stale, 10 min old)"));
  CHECK(old_readings(r.view(), SystemId{1}) == "pressure (never read)");
}

TEST_CASE("messages: the site's own first act stands, still led by the room's oxygen") {
  Rendered r;
  r.site.texts = {{ClassId::pressure_low, "Call the guard at gate 2."}};
  const std::string text = r.draft(r.topic(ClassId::pressure_low, {30.4, 31, ""}, SystemId{0}), NoticeKind::alarm).long_text;
  CHECK(has(text, "Call the guard at gate 2."));
  CHECK(has(text, "First: Read the room's oxygen from outside first"));
}
