#include "config/report.h"

#include <algorithm>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "config/report_delivery.h"
#include "config/report_people.h"
#include "config/requests.h"
#include "rules/text.h"
#include "rules/units.h"
#include "rules/venting/ladder.h"

namespace riserkeep {

namespace {

constexpr std::size_t kName = 14;

// A name that does not fit its column gets a line of its own: names are never cut.
std::string name_cell(std::string_view name) {
  if (name.size() <= kName) return fmt::format("{:<{}}", name, kName);
  return fmt::format("{}\n{:<{}}", name, "", kName);
}

std::string psi_cell(std::optional<GaugePressure> p) {
  return p ? fmt::format("{:>7}", fixed(in_psi(*p), 1)) : fmt::format("{:>7}", "none");
}

std::string gap_cell(std::optional<GaugePressure> low, GaugePressure high) {
  return low ? fmt::format("{:>7}", fixed(in_psi(high - *low), 1)) : fmt::format("{:>7}", "");
}

std::string ladder_rows(const Site& site, SystemId id) {
  const System& s = site[id];
  const Ladder l = ladder(site, id, 0.0, s.air.cut_in);
  std::string out = name_cell(s.name) + psi_cell(l.trip) + psi_cell(l.low_air);
  if (!s.vent) return out + fmt::format("{:>35}", "no vent") + psi_cell(l.cut_in) + psi_cell(l.cut_out) + "\n";
  for (const auto p : {l.limit, l.floor, l.close_at, l.open_from, l.cut_in, l.cut_out}) out += psi_cell(p);
  out += fmt::format("{:>7}\n{:<{}}", fixed(in_psi(l.margin), 1), "  gap below", kName) + fmt::format("{:>7}", "") +
         gap_cell(l.trip, l.low_air);
  const GaugePressure steps[] = {l.low_air, l.limit, l.floor, l.close_at, l.open_from, l.cut_in, l.cut_out};
  for (std::size_t i = 1; i < std::size(steps); ++i) out += gap_cell(steps[i - 1], steps[i]);
  return out + "\n";
}

std::string ladders(const Site& site) {
  std::string out = "PRESSURE LADDER, psi gauge\n";
  out += fmt::format("{:<{}}", "SYSTEM", kName);
  for (const char* head : {"TRIP", "LOWAIR", "LIMIT", "FLOOR", "CLOSE", "OPEN", "CUTIN", "CUTOUT", "MARGIN"})
    out += fmt::format("{:>7}", head);
  out += "\n";
  for (std::size_t i = 0; i < site.systems.size(); ++i) {
    const System& s = site.systems[i];
    out += ladder_rows(site, SystemId{static_cast<std::uint16_t>(i)});
    out +=
        fmt::format("{:<{}}  {} to {}\n", "  band", kName, fixed(in_psi(s.band_low), 1), fixed(in_psi(s.band_high), 1));
  }
  for (const System& s : site.systems)
    if (s.water_pressure && s.valve.kind == ValveKind::differential && !s.valve.trips_at)
      out += fmt::format("{}: the water pressure is measured; where its highest of the last 7 days is above\n"
                         "highest_water, TRIP and all steps that follow from it are higher than printed here.\n", s.name);
  return out +
         "No vent opens below OPEN; one that is open shuts at CLOSE. At most MARGIN is lost\n"
         "until it is shut, so the pressure stays above LIMIT.\n";
}

std::string reaction_text(const Site& site, SystemId id) {
  const System& s = site[id];
  if (!s.vent) return "no vent";
  const Ladder l = ladder(site, id, 0.0, s.air.cut_in);
  if (!l.trip) return "losing air alone does not operate this valve";
  if (!l.reaction) return "not known: no volume; learned when the vent is commissioned";
  const bool brief = *l.reaction < minutes(30);
  return duration_text(*l.reaction) + (brief && s.vent->short_reaction ? ", short: " + *s.vent->short_reaction
                                       : brief                         ? ", short"
                                                                       : "");
}

std::string reactions(const Site& site) {
  std::string out = "TIME FOR A PERSON, from cut-out to trip: vent stuck open, feed dead\n";
  for (std::size_t i = 0; i < site.systems.size(); ++i)
    out += name_cell(site.systems[i].name) + "  " + reaction_text(site, SystemId{static_cast<std::uint16_t>(i)}) + "\n";
  return out;
}

std::string where_text(const LinkWiring& w) {
  if (const auto* tcp = std::get_if<ModbusTcp>(&w.where)) return fmt::format("Modbus TCP {}:{}", tcp->host, tcp->port);
  if (const auto* rtu = std::get_if<ModbusRtu>(&w.where))
    return fmt::format("Modbus RTU {}, {} baud {}{}{}", rtu->device, rtu->baud, rtu->data_bits, rtu->parity,
                       rtu->stop_bits);
  return fmt::format("MQTT {}", std::get<Mqtt>(w.where).uri);
}

std::string_view table_word(RegisterTable t) {
  switch (t) {
    case RegisterTable::coil:
      return "coil";
    case RegisterTable::discrete_input:
      return "discrete input";
    case RegisterTable::input_register:
      return "input register";
    case RegisterTable::holding_register:
      return "holding register";
  }
  return "";
}

std::string meaning(const Channel& c, const Conversion& v) {
  const SignalInfo& i = info_of(c.signal);
  if (i.contact) return v.inverted ? "open contact is active" : "closed contact is active";
  if (v.loop) return fmt::format("4-20 mA is {:.4g} to {:.4g} {}", v.loop->low, v.loop->high, i.unit);
  return v.offset == 0 ? fmt::format("1 count is {:.4g} {}", v.scale, i.unit)
                       : fmt::format("count x {:.4g} + {:.4g} {}", v.scale, v.offset, i.unit);
}

std::string point_rows(const Description& d, const LinkWiring& w, const RegisterPoint& p) {
  const Channel& c = d.site[p.channel];
  return fmt::format("  {} {}: '{}'\n    {} {}, address {}; {}; every {}\n    {}\n", place_id(d.site, c.place),
                     signal_word(c), p.printed, table_word(p.table), p.address + 1, p.address, meaning(c, p.conversion),
                     c.poll < seconds(2) ? fmt::format("{} ms", c.poll.count()) : duration_text(c.poll),
                     hex(framed(w, p.unit, read_request(p.table, p.address, registers_of(p.type)))));
}

std::string coil_rows(const Description& d, const LinkWiring& w, const CoilOutput& o) {
  std::string out =
      fmt::format("  {}: '{}'\n    coil {}, address {}\n", d.site[o.output].id, o.printed, o.coil + 1, o.coil);
  const bool relay = d.site[o.output].kind == OutputKind::box_well;
  for (const auto& [word, pdu] :
       {std::pair{relay ? "on  " : "open", coil_request(o.coil, true)}, std::pair{relay ? "off " : "shut", coil_request(o.coil, false)},
        std::pair{"read", read_request(RegisterTable::coil, o.coil, 1)}})
    out += fmt::format("    {} {}\n", word, hex(framed(w, o.unit, pdu)));
  return out;
}

std::string registers(const Description& d) {
  std::string out = "REGISTERS, with the bytes of each request\n";
  for (const LinkWiring& w : d.wiring.links) {
    out += fmt::format("{}: {}\n", d.site[w.link].id, where_text(w));
    std::set<std::tuple<int, int>> time_outs;
    for (const RegisterPoint& p : d.wiring.registers)
      if (p.link == w.link) out += point_rows(d, w, p);
    for (const TopicPoint& p : d.wiring.topics)
      if (p.link == w.link)
        out += fmt::format("  {} {}: topic '{}'\n", place_id(d.site, d.site[p.channel].place),
                           signal_word(d.site[p.channel]), p.topic);
    for (const CoilOutput& o : d.wiring.coils) {
      if (o.link != w.link) continue;
      out += coil_rows(d, w, o);
      if (!o.device_time_out || !time_outs.emplace(o.unit, o.device_time_out->register_address).second) continue;
      const int counts =
          static_cast<int>(in_seconds(o.device_time_out->after) * o.device_time_out->counts_per_second + 0.5);
      out += fmt::format("  the device's own time-out, {}: holding register {}, address {}\n    {}\n",
                         duration_text(o.device_time_out->after), o.device_time_out->register_address + 1,
                         o.device_time_out->register_address,
                         hex(framed(w, o.unit, register_request(o.device_time_out->register_address, counts))));
    }
  }
  for (const Output& o : d.site.outputs)
    if (o.kind == OutputKind::box_well)
      out += o.device_time_out ? fmt::format("The relay 'box well' is on while the box is well, and drops {} after it died.\n",
                                             duration_text(*o.device_time_out))
                               : "The relay 'box well' is on while the box is well; nothing drops it when the box dies.\n";
  if (!d.wiring.unwired.empty()) {
    out += "Not wired:";
    for (const OutputId o : d.wiring.unwired) out += fmt::format(" '{}'", d.site[o].id);
    out += "\n";
  }
  return out;
}

std::string cycles(const Description& d) {
  std::string out = fmt::format("BUS CYCLE, one round over all points\n{:<22}{:>9}{:>14}{:>22}\n", "LINK", "REQUESTS",
                                "ALL ANSWER", "TWO DEVICES DEAD");
  for (const LinkWiring& w : d.wiring.links) {
    if (std::holds_alternative<Mqtt>(w.where)) continue;
    const BusCycle c = bus_cycle(d.wiring, w.link);
    const std::string& id = d.site[w.link].id;
    out += id.size() <= 22 ? fmt::format("{:<22}", id) : fmt::format("{}\n{:<22}", id, "");
    out += fmt::format("{:>9}{:>12} s{:>20} s\n", c.requests, fixed(c.seconds, 2), fixed(c.seconds_two_dead, 2));
  }
  return out;
}

// Wraps at a blank where a line is longer than 80 columns; the rest is indented.
std::string wrapped(const std::string& text) {
  constexpr std::size_t kWidth = 80;
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    std::string line = text.substr(at, end - at);
    while (line.size() > kWidth) {
      const std::size_t indent = line.find_first_not_of(' ') + 2;
      const std::size_t cut = line.rfind(' ', kWidth);
      if (cut == std::string::npos || cut <= indent) break;
      out += line.substr(0, cut) + "\n";
      line = std::string(indent, ' ') + line.substr(cut + 1);
    }
    out += line + "\n";
    at = end + 1;
  }
  return out;
}

std::string ascii(std::string text) {
  for (char& c : text)
    if ((static_cast<unsigned char>(c) & 0x80u) != 0) c = '?';
  return text;
}

// Seconds for one request and its answer.
double exchange(const LinkWiring& w, const RegisterPoint& p, int count) {
  constexpr double kDevice = 0.010;
  const double gap = in_seconds(w.min_gap);
  const auto* rtu = std::get_if<ModbusRtu>(&w.where);
  if (!rtu) return kDevice + gap;
  const bool bits = p.table == RegisterTable::coil || p.table == RegisterTable::discrete_input;
  const int reply = 5 + (bits ? (count + 7) / 8 : 2 * count);
  const double character = 11.0 / rtu->baud;
  const double silence = rtu->baud > 19200 ? 0.00175 : 3.5 * character;
  return (8 + reply) * character + 2 * silence + kDevice + gap;
}

}  // namespace

// A silent device is asked so often before it is asked more rarely.
static constexpr int kTries = 3;

BusCycle bus_cycle(const Wiring& wiring, LinkId link) {
  const auto w =
      std::find_if(wiring.links.begin(), wiring.links.end(), [&](const LinkWiring& l) { return l.link == link; });
  std::vector<const RegisterPoint*> points;
  for (const RegisterPoint& p : wiring.registers)
    if (p.link == link) points.push_back(&p);
  const auto order = [](const RegisterPoint* p) { return std::tuple(p->unit, p->table, p->address); };
  std::sort(points.begin(), points.end(), [&](const auto* a, const auto* b) { return order(a) < order(b); });
  BusCycle out;
  std::set<int> units;
  for (std::size_t i = 0; i < points.size();) {
    // Registers side by side are read together.
    const RegisterPoint& first = *points[i];
    int end = first.address + registers_of(first.type);
    for (++i; i < points.size() && points[i]->unit == first.unit && points[i]->table == first.table &&
              points[i]->address <= end;
         ++i)
      end = std::max(end, points[i]->address + registers_of(points[i]->type));
    ++out.requests;
    out.seconds += exchange(*w, first, end - first.address);
    units.insert(first.unit);
  }
  for (const CoilOutput& o : wiring.coils)
    if (o.link == link) {
      RegisterPoint read_back;
      read_back.table = RegisterTable::coil;
      ++out.requests;
      out.seconds += exchange(*w, read_back, 1);
      units.insert(o.unit);
    }
  const double dead = static_cast<double>(std::min<std::size_t>(2, units.size()));
  out.seconds_two_dead = out.seconds + dead * kTries * in_seconds(w->time_out);
  return out;
}

std::string check_report(const Description& d) {
  std::string out = fmt::format("{} {}: systems {}, supplies {}, analysers {}\n\n", d.site.name, d.site.id,
                                d.site.systems.size(), d.site.supplies.size(), d.site.analysers.size());
  out += ladders(d.site) + "\n" + reactions(d.site) + "\n" + registers(d) + "\n" + cycles(d);
  if (const std::string who = people_report(d.site); !who.empty()) out += "\n" + who;
  if (const std::string how = delivery_report(d); !how.empty()) out += "\n" + how;
  return ascii(wrapped(out));
}

}  // namespace riserkeep
