#include "daemon/commands/cli.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <exception>
#include <functional>
#include <string>

#include "daemon/commands/check.h"
#include "daemon/commands/demo.h"
#include "daemon/commands/exit_codes.h"
#include "daemon/commands/export.h"
#include "daemon/commands/people.h"
#include "daemon/commands/plant.h"
#include "daemon/commands/reload.h"
#include "daemon/commands/remote.h"
#include "daemon/commands/replay.h"
#include "daemon/commands/run.h"

namespace riserkeep {
namespace {

// What the words of one command line fill in.
struct Words {
  RunOptions run;
  Remote remote;
  CommissionOptions commission;
  DemoOptions demo;
  std::string site, file, system, by, mode, reference, place, person, kind, value, meter, why, what, events;
  double gauge = -1, speed = 1;
  int port = 1502;
  std::uint64_t seed = 1;
  bool demo_room = false, unlock = false;
};

class CommandLine {
 public:
  CommandLine() {
    app_.set_version_flag("--version", "riserkeep " RISERKEEP_VERSION);
    app_.require_subcommand(1);
    app_.footer("Exit codes: 0 done, 1 it failed, 2 usage or site-file error, 3 not running, 4 refused.\n"
                "Supplementary: not a listed fire-alarm control unit. Local code and licensed practice rule.");
    add_daemon();
    add_alone();
    add_looking();
    add_operating();
    add_people_commands(app_, w_.remote, people_, chosen_);
  }

  int run(int argc, char** argv) {
    w_.demo.program = argv[0];
    const auto named = [argv](const CLI::App* sub) { return sub->get_name() == argv[1]; };
    if (argc > 1 && argv[1][0] != '-' && app_.get_subcommands(named).empty()) {
      fmt::print(stderr, "there is no command '{}'; `riserkeep --help` lists them\n", argv[1]);
      return kUsage;
    }
    try {
      app_.parse(argc, argv);
    } catch (const CLI::ParseError& e) {
      return app_.exit(e) == 0 ? kDone : kUsage;
    }
    return chosen_ ? chosen_() : kUsage;
  }

 private:
  CLI::App* add(const std::string& name, const std::string& text, const std::string& example, std::function<int()> deed) {
    CLI::App* sub = app_.add_subcommand(name, text);
    sub->footer("Example: riserkeep " + name + " " + example);
    sub->callback([this, deed = std::move(deed)] { chosen_ = deed; });
    return sub;
  }
  CLI::App* add_remote(const std::string& name, const std::string& text, const std::string& example, std::function<int()> deed) {
    CLI::App* sub = add(name, text, example, std::move(deed));
    sub->add_option("--state", w_.remote.state_dir, "State directory of the daemon")->capture_default_str();
    sub->add_flag("--json", w_.remote.json, "Print the JSON document");
    return sub;
  }
  CLI::App* add_signed(const std::string& name, const std::string& text, const std::string& example, std::function<int()> deed) {
    CLI::App* sub = add_remote(name, text, example, std::move(deed));
    sub->add_option("--by", w_.by, "Who does this; kept in the record")->required();
    return sub;
  }

  void add_daemon() {
    auto* run = add("run", "Watch, judge and vent until SIGTERM", "site.yaml --state /var/lib/riserkeep --events -", [this] {
      w_.run.site_file = w_.site;
      w_.run.events_to_stdout = w_.events == "-";
      return run_command(w_.run);
    });
    run->add_option("site", w_.site, "Site file")->required();
    run->add_option("--state", w_.run.state_dir, "State directory")->capture_default_str();
    run->add_option("--events", w_.events, "\"-\": also print events, one JSON object a line")->check(CLI::IsMember({"-"}));
  }

  void add_alone() {
    add("check", "Say everything that is wrong with a site file, and what it means", "site.yaml",
        [this] { return check_command(w_.site); })->add_option("site", w_.site, "Site file")->required();

    auto* replay = add("replay", "Run a recorded past through the same engine; events on standard output", "site.yaml telemetry.csv",
                       [this] { return replay_command(w_.site, w_.file); });
    replay->add_option("site", w_.site, "Site file")->required();
    replay->add_option("file", w_.file, "Telemetry CSV or input log; \"-\": standard input")->required();

    auto* demo = add("demo", "Two simulated weeks of a fictional riser room, no hardware needed", "",
                     [this] { return demo_command(w_.demo); });
    demo->add_flag("--live", w_.demo.live, "Plant and daemon as two processes in real time, until stopped");
    demo->add_option("--days", w_.demo.days, "Simulated days")->check(CLI::Range(1, 60))->capture_default_str();
    demo->add_option("--seed", w_.demo.seed, "Of everything random")->capture_default_str();

    auto* plant = add("plant", "The simulated riser room alone, on Modbus TCP", "site.yaml --port 1502", [this] {
      return plant_command(w_.site, w_.port, w_.seed, w_.speed, w_.demo_room);
    });
    plant->add_option("site", w_.site, "Site file")->required();
    plant->add_option("--port", w_.port, "TCP port on loopback; 0: any free one")->required()->check(CLI::Range(0, 65535));
    plant->add_option("--seed", w_.seed, "Of everything random")->capture_default_str();
    plant->add_option("--speed", w_.speed, "Simulated seconds in a second")->check(CLI::Range(0.01, 1000.0))->capture_default_str();
    plant->add_flag("--demo", w_.demo_room, "The demo's room: leaking loft, tight cold store");

    auto* out = add("export", "Write the record as text to standard output; also while the daemon runs", "telemetry > week.csv", [this] {
      const auto write = w_.what == "telemetry" ? export_telemetry : w_.what == "inputs" ? export_inputs : export_events;
      return write(w_.remote.state_dir, stdout, stderr);
    });
    out->add_option("what", w_.what, "telemetry (CSV), inputs or events (JSON Lines)")->required()
        ->check(CLI::IsMember({"telemetry", "inputs", "events"}));
    out->add_option("--state", w_.remote.state_dir, "State directory")->capture_default_str();
  }

  void add_looking() {
    add_remote("reload", "Read the site file again: a bad one is refused and the former stays in force", "", [this] { return reload_command(w_.remote); });
    add_remote("status", "What needs you, and how every system is", "", [this] { return status_command(w_.remote); });
    add_remote("why", "Explain a system's vent and alarms", "roof-void", [this] { return why_command(w_.remote, w_.system); })
        ->add_option("system", w_.system, "Id or name")->required();
  }

  void add_operating() {
    auto* commission = add_signed("commission", "Prove a vent with a short pulse, then permit it", "roof-void --by Lee --gauge 28.5", [this] {
      w_.commission.system = w_.system;
      w_.commission.by = w_.by;
      if (w_.gauge >= 0) w_.commission.gauge_psi = w_.gauge;
      return commission_command(w_.remote, w_.commission);
    });
    commission->add_option("system", w_.system, "Id or name")->required();
    commission->add_flag("--yes", w_.commission.yes, "Do not ask");
    commission->add_option("--gauge", w_.gauge, "What the air gauge shows now, psi")->check(CLI::Range(0.0, 300.0));

    auto* mode = add_signed("mode", "Watch only, purge to the target, or keep it there", "roof-void purge --by Lee",
                            [this] { return mode_command(w_.remote, w_.system, w_.mode, w_.by); });
    mode->add_option("system", w_.system, "Id or name")->required();
    mode->add_option("mode", w_.mode, "watch, purge or keep")->required()->check(CLI::IsMember({"watch", "purge", "keep"}));

    add_signed("ack", "Acknowledge an alarm by its reference", "7K6 --by Lee",
               [this] { return ack_command(w_.remote, w_.reference, w_.by); })
        ->add_option("reference", w_.reference, "As printed with the alarm")->required();

    add_signed("release", "Release a system whose valve may have operated, after a look at the valve", "loading-dock --by Lee",
               [this] { return release_command(w_.remote, w_.system, w_.by); })
        ->add_option("system", w_.system, "Id or name")->required();

    auto* test = add_remote("notify-test", "Send a test message the real way and wait for the answer", "night",
                            [this] { return notify_test_command(w_.remote, w_.person, w_.by.empty() ? "notify-test" : w_.by); });
    test->add_option("person", w_.person, "Id in the site file; everybody unless said");
    test->add_option("--by", w_.by, "Who does this; kept in the record");

    auto* reading = add_signed("reading", "Enter a hand reading of oxygen, or an air check of an analyser", "roof-void far-end 1.8 --by Lee",
                               [this] { return reading_command(w_.remote, w_.place, w_.kind, w_.value, w_.meter, w_.by); });
    reading->add_option("place", w_.place, "System (far-end, riser) or analyser (air-check)")->required();
    reading->add_option("kind", w_.kind, "far-end, riser or air-check")->required()->check(CLI::IsMember({"far-end", "riser", "air-check"}));
    reading->add_option("value", w_.value, "Oxygen by volume, percent")->required();
    reading->add_option("--meter", w_.meter, "Which meter");

    auto* lock = add_signed("lock", "Keep a vent shut until it is unlocked", "roof-void --by Lee --why \"hose off\"",
                            [this] { return lock_command(w_.remote, w_.system, !w_.unlock, w_.why, w_.by); });
    lock->add_option("system", w_.system, "Id or name")->required();
    lock->add_option("--why", w_.why, "The reason, shown by why");
    lock->add_flag("--off", w_.unlock, "Unlock");
  }

  CLI::App app_{"Keeps dry-pipe and preaction sprinkler systems under nitrogen: watches, judges, vents.", "riserkeep"};
  Words w_;
  PeopleWords people_;
  std::function<int()> chosen_;
};

}  // namespace

int command_line(int argc, char** argv) {
  try {
    return CommandLine().run(argc, argv);
  } catch (const std::exception& e) {
    fmt::print(stderr, "riserkeep: {}\n", e.what());
    return kFailed;
  }
}

}  // namespace riserkeep
