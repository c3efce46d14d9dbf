#include <CLI/CLI.hpp>

#include "daemon/commands/people.h"

namespace riserkeep {
namespace {

struct Adding {
  Remote& remote;
  PeopleWords& w;
  std::function<int()>& chosen;

  CLI::App* one(CLI::App& under, const std::string& name, const std::string& text, const std::string& example, std::function<int()> deed) const {
    CLI::App* sub = under.add_subcommand(name, text);
    sub->footer("Example: riserkeep " + example);
    sub->callback([&to = chosen, deed = std::move(deed)] { to = deed; });
    sub->add_option("--state", remote.state_dir, "State directory of the daemon")->capture_default_str();
    sub->add_flag("--json", remote.json, "Print the JSON document");
    sub->add_option("--by,--who", w.by, "Who does this; kept in the record")->required();
    return sub;
  }
  static void span(CLI::App* sub, Span& s, bool compulsory) {
    auto* group = sub->add_option_group("how long", "How long");
    group->add_option("--for", s.how_long, "8h, \"90 min\", 2d");
    group->add_option("--until", s.until, "A time of day of the site, the next one: 17:00");
    group->require_option(compulsory ? 1 : 0, 1);
  }
};

void add_resting(CLI::App& app, const Adding& a) {
  PeopleWords& w = a.w;
  auto* shelve = a.one(app, "shelve", "Do not be told of an alarm for a time; its state goes on", "shelve leak@roof-void --for 8h --why \"parts ordered\" --by Lee",
                       [&a_ = a.remote, &w] { return shelve_command(a_, w.shelve, w.by); });
  shelve->add_option("target", w.shelve.target, "Reference (7K6), alarm@place, or a place for all of its alarms")->required();
  Adding::span(shelve, w.shelve.span, false);
  shelve->add_option("--why", w.shelve.why, "The reason; compulsory beyond 24 h");
  shelve->add_flag("--until-clear", w.shelve.until_clear, "Ends when the condition goes, if that is sooner");

  a.one(app, "unshelve", "Be told of it again", "unshelve leak@roof-void --by Lee", [&r = a.remote, &w] { return unshelve_command(r, w.target, w.by); })
      ->add_option("target", w.target, "As it was shelved")->required();

  auto* service = a.one(app, "out-of-service", "Take an alarm or a place out of service, until it is put back", "out-of-service roof-void --why \"drained for winter\" --by Lee",
                        [&r = a.remote, &w] { return service_command(r, w.target, !w.back, w.why, w.by); });
  service->add_option("target", w.target, "Reference (7K6), alarm@place, or a place for all of its alarms")->required();
  service->add_option("--why", w.why, "The reason; compulsory when it is taken out");
  service->add_flag("--back", w.back, "Put it back in service");
}

void add_work(CLI::App& app, const Adding& a) {
  PeopleWords& w = a.w;
  CLI::App* work = app.add_subcommand("work", "Announce work on a system, and its end");
  work->require_subcommand(1);
  work->footer("Example: riserkeep work start roof-void --what \"new gaskets\" --until 17:00 --by Lee");
  auto* start = a.one(*work, "start", "Lock the vent, keep expected alarms quiet; again: extend it", "work start roof-void --what \"new gaskets\" --until 17:00 --by Lee",
                      [&r = a.remote, &w] { return work_start_command(r, w.work_start, w.by); });
  start->add_option("system", w.work_start.system, "Id or name")->required();
  start->add_option("--what", w.work_start.what, "What is done there")->required();
  Adding::span(start, w.work_start.span, true);

  auto* end = a.one(*work, "end", "Say how the system was left", "work end roof-void --reset --drained --water-valve-open --gas air --by Lee",
                    [&r = a.remote, &w] { return work_end_command(r, w.work_end, w.by); });
  end->add_option("system", w.work_end.system, "Id or name")->required();
  end->add_flag("--reset", w.work_end.reset, "The valve is reset");
  end->add_flag("--drained", w.work_end.drained, "Pipe and drains are free of water");
  end->add_flag("--water-valve-open", w.work_end.water_valve_open, "The water supply valve was seen open");
  end->add_option("--gas", w.work_end.gas, "What the pipe holds now: nitrogen, air; unchanged: it was not opened")->required();
  end->add_option("--except", w.work_end.except, "What was not done, and why");
}

void add_chores(CLI::App& app, const Adding& a) {
  PeopleWords& w = a.w;
  auto* chore = a.one(app, "chore", "Note a chore as done", "chore roof-void gauge-comparison --as-found 0.4 --as-left 0.1 --by Lee",
                      [&r = a.remote, &w] { return chore_command(r, w.chore, w.by); });
  chore->add_option("place", w.chore.place, "System, or analyser for an air check")->required();
  chore->add_option("chore", w.chore.chore, "gauge-comparison, air-check, hand-reading, leak-test, low-point-drains")->required();
  chore->add_option("--as-found", w.chore.as_found, "Value before, in the chore's unit");
  chore->add_option("--as-left", w.chore.as_left, "Value after");
  chore->add_option("--remark", w.chore.remark, "Anything else");

  auto* repair = a.one(app, "note", "Note a repair; the leak estimate of a system starts anew", "note roof-void \"low-point drain replaced\" --by Lee",
                       [&r = a.remote, &w] { return repair_command(r, w.place, w.what, w.by); });
  repair->add_option("place", w.place, "Where")->required();
  repair->add_option("what", w.what, "What was done")->required();
}

}  // namespace

void add_people_commands(CLI::App& app, Remote& remote, PeopleWords& words, std::function<int()>& chosen) {
  const Adding adding{remote, words, chosen};
  add_resting(app, adding);
  add_work(app, adding);
  add_chores(app, adding);
}

}  // namespace riserkeep
