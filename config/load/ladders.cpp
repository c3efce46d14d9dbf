#include <algorithm>
#include <initializer_list>

#include <fmt/format.h>

#include "config/load/checks.h"
#include "rules/text.h"
#include "rules/units.h"
#include "rules/venting/ladder.h"

namespace riserkeep {

namespace {

// Two readings that differ by less than this are the same to a service technician's gauge.
constexpr PressureChange kCoarsest = psi(0.5);

// The value below a system that a problem is about, when it was written; else the system.
Field below(const Field& f, std::initializer_list<std::string_view> keys) {
  Field out = f;
  for (const std::string_view key : keys) {
    const auto& entries = out.node->entries;
    const auto found = std::find_if(entries.begin(), entries.end(), [&](const Entry& e) { return e.key == key; });
    if (found == entries.end()) break;
    out = out.of(*found);
  }
  return out;
}

void check_order(const Field& f, const System& s) {
  const auto above = [](const Field& at, GaugePressure high, std::string_view high_name, GaugePressure low,
                        std::string_view low_name, std::string cure) {
    if (high > low) return;
    at.error(fmt::format("{} ({}) is not above {} ({})", high_name, psi_text(high), low_name, psi_text(low)),
             std::move(cure));
  };
  above(below(f, {"air", "cut_out"}), s.air.cut_out, "cut_out", s.air.cut_in, "cut_in",
        "the feed starts at cut_in and stops at cut_out");
  above(below(f, {"air", "cut_in"}), s.air.cut_in, "cut_in", s.valve.low_air_switch, "low_air_switch",
        "the feed must start before the low-air signal");
  above(below(f, {"band"}), s.band_high, "the band's high side", s.air.cut_out, "cut_out",
        "write the supervisory band, like '31 psi to 48 psi'");
  above(below(f, {"band"}), s.air.cut_in, "cut_in", s.band_low, "the band's low side",
        "write the supervisory band, like '31 psi to 48 psi'");
}

void check_instrument(Build& b, const Field& f, const System& s) {
  const Channel& c = b.d.site[s.pressure];
  if (c.span_high > c.span_low) {
    if (c.span_high <= in_psi(s.air.cut_out))
      f.error(fmt::format("the span ends at {:.4g} psi, not above cut_out ({})", c.span_high, psi_text(s.air.cut_out)),
              "use a transducer of a wider span");
    else if (c.span_high < in_psi(s.band_high))
      f.warn(fmt::format("the span ends at {:.4g} psi, inside the band: high pressure cannot be seen", c.span_high),
             "use a transducer of a wider span");
    if (c.span_low > 0.5)
      f.error(fmt::format("the span begins at {:.4g} psi: lost air cannot be seen", c.span_low),
              "use a transducer that measures from 0 psi");
  }
  for (const RegisterPoint& p : b.d.wiring.registers) {
    if (p.channel != s.pressure || p.type == ValueType::float32) continue;
    const double count = p.conversion.loop ? (c.span_high - c.span_low) * p.conversion.loop->milliamp_per_count / 16.0
                                           : p.conversion.scale;
    if (psi(count < 0 ? -count : count) > kCoarsest)
      f.error(fmt::format("one count of '{}' is {:.3g} psi: a venting could not be followed", p.printed, count),
              "use a finer scale; 0.1 psi or less is wanted");
  }
}

void check_purity(Build& b, const Field& f, const System& s) {
  if (!s.purity) {
    if (s.vent) f.warn("a vent without a purity target is never opened", "add purity: {target: 98 %, analyser: ...}");
    return;
  }
  const OxygenFraction feed = b.d.site[s.supply].oxygen;
  if (s.purity->target.percent() + 1e-9 < feed.percent() + 0.5)
    f.error(fmt::format("the target {:.4g} % is out of reach: the feed has {:.4g} %, and 0.5 % must lie between",
                        s.purity->target.purity_percent(), feed.purity_percent()),
            "lower the target or mend the feed");
}

// A person needs time to reach the hand valve when a vent sticks open while the feed is dead.
constexpr Duration kShortestReaction = minutes(30);

void check_reaction(Build& b, const Field& f, const System& s, const Ladder& l) {
  if (!l.reaction || *l.reaction >= kShortestReaction || s.vent->short_reaction) return;
  const std::string what =
      fmt::format("with the vent stuck open and the feed dead, {} from cut-out to trip: too short for a person to come",
                  duration_text(*l.reaction));
  const std::string cure = "use a smaller bore, or write why it will do: vent: {short_reaction: ...}";
  if (b.wires_optional())
    f.warn(what, cure);
  else
    f.error(what, cure);
}

void check_ladder(Build& b, const Field& f, SystemId id) {
  const System& s = b.d.site[id];
  if (const auto trip = trip_pressure(s, std::nullopt); trip && s.valve.low_air_switch <= *trip)
    below(f, {"valve", "low_air_switch"})
        .error(fmt::format("low_air_switch ({}) is not above the trip pressure ({}): its signal would come too late",
                           psi_text(s.valve.low_air_switch), psi_text(*trip)),
               "look at the valve's data sheet, the ratio and the highest water pressure");
  if (!s.vent) return;
  const Ladder l = ladder(b.d.site, id, 0.0, s.air.cut_in);
  if (l.floor >= l.cut_in)
    below(f, {"air", "cut_in"})
        .error(
            fmt::format("the floor for venting ({}) is not below cut_in ({}): a pipe at its cut-in could not vent",
                        psi_text(l.floor), psi_text(l.cut_in)),
            fmt::format("raise cut_in and cut_out, use a smaller bore or a finer gauge; the limit is {}, the margin {}",
                        psi_text(l.limit), psi_text(l.margin)));
  else if (l.open_from >= l.cut_out)
    below(f, {"air", "cut_out"})
        .error(fmt::format("the vent opens from {} only, not below cut_out ({})", psi_text(l.open_from),
                           psi_text(l.cut_out)),
               "widen cut_in to cut_out");
  if (s.band_low >= l.close_at)
    below(f, {"band"})
        .error(
            fmt::format("the band begins at {}, not below {} where a venting ends: every venting would raise an alarm",
                        psi_text(s.band_low), psi_text(l.close_at)),
            "lower the band's low side");
  check_reaction(b, below(f, {"vent"}), s, l);
}

}  // namespace

void check_ladders(Build& b) {
  for (std::size_t i = 0; i < b.d.site.systems.size(); ++i) {
    if (!b.system_read_well[i]) continue;
    const System& s = b.d.site.systems[i];
    const Field& f = b.system_fields[i];
    const std::size_t before = b.problems.errors();
    check_order(f, s);
    check_instrument(b, below(f, {"air", "at"}), s);
    check_purity(b, below(f, {"purity", "target"}), s);
    if (b.problems.errors() == before) check_ladder(b, f, id_at<SystemId>(i));
  }
}

}  // namespace riserkeep
