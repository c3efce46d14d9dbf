#include <fmt/format.h>

#include "config/load/checks.h"
#include "rules/text.h"
#include "rules/units.h"

namespace riserkeep {

namespace {

// Two readings that differ by less than this are the same to a service technician's gauge.
constexpr PressureChange kCoarsest = psi(0.5);

void check_order(const Field& f, const System& s) {
  const auto above = [&](GaugePressure high, std::string_view high_name, GaugePressure low, std::string_view low_name, std::string cure) {
    if (high > low) return;
    f.error(fmt::format("{} ({}) is not above {} ({})", high_name, psi_text(high), low_name, psi_text(low)), std::move(cure));
  };
  above(s.air.cut_out, "cut_out", s.air.cut_in, "cut_in", "the feed starts at cut_in and stops at cut_out");
  above(s.air.cut_in, "cut_in", s.valve.low_air_switch, "low_air_switch", "the feed must start before the low-air signal");
  above(s.band_high, "the band's high side", s.air.cut_out, "cut_out", "write the supervisory band, like '31 psi to 48 psi'");
  above(s.air.cut_in, "cut_in", s.band_low, "the band's low side", "write the supervisory band, like '31 psi to 48 psi'");
}

void check_instrument(Build& b, const Field& f, const System& s) {
  const Channel& c = b.d.site[s.pressure];
  if (c.span_high > c.span_low) {
    if (c.span_high <= in_psi(s.air.cut_out)) f.error(fmt::format("the span ends at {:.4g} psi, not above cut_out ({})", c.span_high, psi_text(s.air.cut_out)), "use a transducer of a wider span");
    else if (c.span_high < in_psi(s.band_high)) f.warn(fmt::format("the span ends at {:.4g} psi, inside the band: high pressure cannot be seen", c.span_high), "use a transducer of a wider span");
    if (c.span_low > 0.5) f.error(fmt::format("the span begins at {:.4g} psi: lost air cannot be seen", c.span_low), "use a transducer that measures from 0 psi");
  }
  for (const RegisterPoint& p : b.d.wiring.registers) {
    if (p.channel != s.pressure || p.type == ValueType::float32) continue;
    const double count = p.conversion.loop ? (c.span_high - c.span_low) * p.conversion.loop->milliamp_per_count / 16.0 : p.conversion.scale;
    if (psi(count < 0 ? -count : count) > kCoarsest) f.error(fmt::format("one count of '{}' is {:.3g} psi: a venting could not be followed", p.printed, count), "use a finer scale; 0.1 psi or less is wanted");
  }
}

void check_purity(Build& b, const Field& f, const System& s) {
  if (!s.purity) {
    if (s.vent) f.warn("a vent without a purity target is never opened", "add purity: {target: 98 %, analyser: ...}");
    return;
  }
  const OxygenFraction feed = b.d.site[s.supply].oxygen;
  if (s.purity->target.percent() + 1e-9 < feed.percent() + 0.5)
    f.error(fmt::format("the target {:.4g} % is out of reach: the feed has {:.4g} %, and 0.5 % must lie between", s.purity->target.purity_percent(), feed.purity_percent()),
            "lower the target or mend the feed");
}

}  // namespace

void check_ladders(Build& b) {
  for (std::size_t i = 0; i < b.d.site.systems.size(); ++i) {
    const System& s = b.d.site.systems[i];
    const Field& f = b.system_fields[i];
    check_order(f, s);
    check_instrument(b, f, s);
    check_purity(b, f, s);
  }
}

}  // namespace riserkeep
