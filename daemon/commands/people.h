// Commands of people who work on the site: what they do not want to hear of, where they work, what they did.
#pragma once

#include <functional>
#include <optional>
#include <string>

#include "daemon/commands/remote.h"

namespace CLI { class App; }

namespace riserkeep {

// How long something lasts: "8h", "90 min", "2 d"; or a local time of the site, "17:00", the next one to come.
struct Span { std::string how_long, until; };
std::optional<double> seconds_of(const std::string& how_long);   // absent: no time

struct ShelveOptions { std::string target, why; Span span; bool until_clear = false; };
struct WorkStartOptions { std::string system, what; Span span; };
struct WorkEndOptions { std::string system, gas, except; bool reset = false, drained = false, water_valve_open = false; };
struct ChoreOptions { std::string place, chore, remark; std::optional<double> as_found, as_left; };

int shelve_command(const Remote&, const ShelveOptions&, const std::string& by);
int unshelve_command(const Remote&, const std::string& target, const std::string& by);
int service_command(const Remote&, const std::string& target, bool out, const std::string& why, const std::string& by);
int work_start_command(const Remote&, const WorkStartOptions&, const std::string& by);
int work_end_command(const Remote&, const WorkEndOptions&, const std::string& by);
int chore_command(const Remote&, const ChoreOptions&, const std::string& by);
int repair_command(const Remote&, const std::string& place, const std::string& what, const std::string& by);

// Their words on the command line. `chosen` is set to the deed; `remote` and `words` must outlive the parsing.
struct PeopleWords {
  ShelveOptions shelve;
  WorkStartOptions work_start;
  WorkEndOptions work_end;
  ChoreOptions chore;
  std::string target, place, why, what, by;
  bool back = false;
};
void add_people_commands(CLI::App&, Remote& remote, PeopleWords& words, std::function<int()>& chosen);

}  // namespace riserkeep
