// A site with people, and alarms raised by hand: what is told to whom, second by second.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "rules/notices/notices.h"
#include "rules/text.h"
#include "tests/rules/judge/house.h"

namespace riserkeep {

struct Watch : House {
  Notices notices;
  Effects out;
  std::size_t heard = 0;
  std::map<AlarmKey, Verdict> verdicts;                // judged every second
  std::vector<QuietWork> work;
  bool cut_everywhere = false;                         // keep and restore each second

  Watch() { person("ada"); }

  Person& person(const std::string& id, bool calls_now = false) {
    Person p;
    p.id = id;
    p.reach = {{ReachBy::mail, id + "@example.org"}};
    p.calls_now = calls_now;
    site.people.push_back(p);
    return site.people.back();
  }

  // More systems like the first, all on supply 0 and link 0.
  void systems(std::size_t count) {
    while (site.systems.size() < count) {
      System s = site.systems[1];
      const auto i = static_cast<std::uint16_t>(site.systems.size());
      s.id = s.name = "system-" + std::to_string(i);
      s.kind = SystemKind::dry_pipe;
      s.pressure = channel(SystemId{i}, Signal::pressure, seconds(2), seconds(60));
      site.systems.push_back(s);
    }
    reset();
  }

  static Raise raise(double value = 30.4, double limit = 31, std::string_view unit = "psi") {
    Raise r;
    r.value = value;
    r.limit = limit;
    r.unit = unit;
    return r;
  }
  void set(ClassId c, PlaceId p, Verdict v) { verdicts[{c, p}] = std::move(v); }
  void bad(ClassId c, PlaceId p) { set(c, p, raise()); }
  void good(ClassId c, PlaceId p) { set(c, p, Clear{}); }
  void unknown(ClassId c, PlaceId p) { set(c, p, CannotTell{}); }
  using House::bad;

  void hear() {
    for (; heard < out.size(); ++heard)
      if (const auto* a = std::get_if<AlarmChanged>(&out[heard].effect)) notices.heard(site, *a, out[heard].at);
  }

  void second() {
    now += seconds(1);
    for (const auto& [key, v] : verdicts) board.judge(site, key.first, key.second, v, now, seconds(1), out);
    board.rest(site, now, work, out);
    hear();
    notices.tick(view(), out);
    if (cut_everywhere) cut();
  }
  void run(Duration d) {
    for (const EngineTime end = now + d; now < end;) second();
  }

  // The program is killed here and starts again from what was kept.
  void cut() {
    Archive saved = Archive::saving();
    saved.section(1, 1, notices);
    saved.section(2, 1, board);
    Archive in = Archive::loading(std::move(saved).take());
    Notices fresh;
    AlarmBoard again;
    if (!in.section(1, 1, fresh) || !in.section(2, 1, again)) throw std::runtime_error("the notices cannot be restored");
    fresh.fit(site);
    again.rearrange(Renumbering{names_of(site), names_of(site)});
    notices = std::move(fresh);
    board = std::move(again);
  }

  void acknowledge(const std::string& reference) {
    std::string why;
    board.acknowledge(site, reference, "Ada", now, out, why);
    if (!why.empty()) throw std::runtime_error(why);
    hear();
  }
  void acknowledge_all() {
    for (const auto& item : board.open())
      if (item.life->state() == AlarmState::unacknowledged) acknowledge(reference_of(item.life->id()));
  }
  void turn(CalendarKey key, std::uint16_t index, bool begins = true) { notices.turned(view(), {key, begins, index}, out); }

  std::vector<Notice> told() const {
    std::vector<Notice> list;
    for (const Timed& t : out)
      if (const auto* n = std::get_if<Notice>(&t.effect)) list.push_back(*n);
    return list;
  }
  // "alarm reminder reminder back_to_normal": the kinds in order, of one person where `to` names one.
  std::string kinds(std::optional<PersonId> to = {}) const {
    std::string text;
    for (const Notice& n : told()) {
      if (to && std::ranges::find(n.to, *to) == n.to.end()) continue;
      text += (text.empty() ? "" : " ") + std::string{word(n.kind)};
    }
    return text;
  }
  // Everything told, for comparing two runs.
  std::string script() const {
    std::string text;
    for (const Timed& t : out) {
      const auto* n = std::get_if<Notice>(&t.effect);
      if (!n) continue;
      text += std::to_string(t.at.time_since_epoch().count()) + " " + std::to_string(static_cast<std::uint64_t>(n->id)) + " " +
              std::string{word(n->kind)} + " to " + std::to_string(n->to.size()) + ": " + n->subject + "\n" + n->short_text + "\n" + n->long_text + "\n";
    }
    return text;
  }
};

}  // namespace riserkeep
