#include "drivers/plant/console.h"

#include <fmt/format.h>

namespace riserkeep::plant {

namespace {
std::string trimmed(const std::string& s) {
  const auto begin = s.find_first_not_of(" \t\r\n");
  if (begin == std::string::npos) return "";
  return s.substr(begin, s.find_last_not_of(" \t\r\n") - begin + 1);
}

std::string help() {
  return "fault FAULT    make it so (below)\nclear FAULT    mend it; 'clear all' mends everything\n"
         "faults         what is wrong now\nreset SYSTEM   drain and reset an opened valve, fill with air\n"
         "truth          what is really so in every system\nfaults are:\n" +
         fault_help();
}

std::string fault(SimulatedRoom& room, const Site& site, const std::string& text) {
  const auto parsed = parse_fault(site, text);
  if (const auto* why = std::get_if<std::string>(&parsed)) return *why;
  room.inject(std::get<Fault>(parsed));
  return "now: " + fault_text(site, std::get<Fault>(parsed));
}

std::string clear(SimulatedRoom& room, const Site& site, const std::string& text) {
  if (text == "all") {
    room.clear_all();
    return "everything mended";
  }
  auto parsed = parse_fault(site, text);
  if (std::holds_alternative<std::string>(parsed)) {  // a fault may be named without its amount
    const auto with_amount = parse_fault(site, text + " 1");
    if (std::holds_alternative<Fault>(with_amount)) parsed = with_amount;
  }
  if (const auto* why = std::get_if<std::string>(&parsed)) return *why;
  return room.clear(std::get<Fault>(parsed)) ? "mended: " + text : "there was no fault '" + text + "'";
}

std::string faults(const SimulatedRoom& room, const Site& site) {
  std::string out;
  for (const Fault& f : room.faults()) out += (out.empty() ? "" : "\n") + fault_text(site, f);
  return out.empty() ? "no fault" : out;
}

std::string reset(SimulatedRoom& room, const Site& site, const std::string& id) {
  const auto system = find_system(site, id);
  if (!system) return "'" + id + "' is no system of this site";
  if (!room.truth(*system).operated) return "the valve of " + id + " has not opened";
  room.reset_valve(*system);
  return "reset: " + id;
}

std::string truth(const SimulatedRoom& room, const Site& site) {
  std::string out = fmt::format("{:.1f} min since the start", in_seconds(room.now().time_since_epoch()) / 60.0);
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const Truth t = room.truth(SystemId{static_cast<std::uint16_t>(i)});
    out += fmt::format(
        "\n{}: {:.3f} psi, O2 mean {:.3f} % worst {:.3f} %, gas {:.1f} C, leak {:.2f} psi/24 h at 40 psi, "
        "vent {}{}{}",
        site.systems[i].id, in_psi(t.pressure), t.mean_oxygen.percent(), t.worst_oxygen.percent(), in_celsius(t.gas),
        in_psi_per_day(t.leak), t.vent_open ? "open" : "shut", t.refilling ? ", refilling" : "",
        t.operated ? ", VALVE OPEN" : "");
  }
  return out;
}
}  // namespace

std::string room_command(SimulatedRoom& room, const Site& site, const std::string& line) {
  const std::string text = trimmed(line);
  const auto space = text.find_first_of(" \t");
  const std::string word = text.substr(0, space), rest = space == std::string::npos ? "" : trimmed(text.substr(space));
  if (word.empty()) return "";
  if (word == "help") return help();
  if (word == "fault") return fault(room, site, rest);
  if (word == "clear") return clear(room, site, rest);
  if (word == "faults") return faults(room, site);
  if (word == "reset") return reset(room, site, rest);
  if (word == "truth") return truth(room, site);
  return "'" + word + "' is no command; there are: help, fault, clear, faults, reset, truth";
}

}  // namespace riserkeep::plant
