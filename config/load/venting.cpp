#include "config/load/venting.h"

#include <array>
#include <cmath>

#include <fmt/format.h>

namespace riserkeep {

namespace {

double to_si(PressureChange v) { return v.si(); }
double to_si(PressureRate v) { return v.si(); }
double to_si(Duration v) { return in_seconds(v); }
double to_si(int v) { return v; }
double to_si(double v) { return v; }
void from_si(PressureChange& v, double si) { v = PressureChange::from_si(si); }
void from_si(PressureRate& v, double si) { v = PressureRate::from_si(si); }
void from_si(Duration& v, double si) { v = from_seconds(si); }
void from_si(int& v, double si) { v = static_cast<int>(std::lround(si)); }
void from_si(double& v, double si) { v = si; }

constexpr Dimension dimension_for(const PressureChange*) { return Dimension::pressure; }
constexpr Dimension dimension_for(const PressureRate*) { return Dimension::pressure_rate; }
constexpr Dimension dimension_for(const Duration*) { return Dimension::duration; }
constexpr Dimension dimension_for(const int*) { return Dimension::count; }
constexpr Dimension dimension_for(const double*) { return Dimension::count; }

template <auto Member>
constexpr VentingKey key(std::string_view name, double low, double high, std::string_view help) {
  using Field = std::remove_reference_t<decltype(std::declval<VentingParams>().*Member)>;
  return {name,
          dimension_for(static_cast<Field*>(nullptr)),
          low,
          high,
          std::is_same_v<Field, int>,
          help,
          [](const VentingParams& p) { return to_si(p.*Member); },
          [](VentingParams& p, double si) { from_si(p.*Member, si); }};
}

using P = VentingParams;
constexpr double kPsi = kPascalPerPsi, kMin = 60, kHour = 3600, kDay = 86400;

// Short ends are for scaled plants of litres; long ends keep a slip of the pen from switching a guard off.
const std::array kKeys{
    key<&P::limit_above_trip>("limit_above_trip", 5 * kPsi, 50 * kPsi,
                              "no vent opens nearer to the trip pressure than this"),
    key<&P::margin_extra>("margin_extra", 0, 20 * kPsi, "added to the margin between limit and floor"),
    key<&P::close_below_cut_in>("close_below_cut_in", 0, 10 * kPsi,
                                "a venting ends this far below the cut-in, so that the pipe refills by itself"),
    key<&P::open_above_close>("open_above_close", 0.2 * kPsi, 20 * kPsi,
                              "a vent opens only when the pressure is this far above its closing pressure"),
    key<&P::longest_venting>("longest_venting", 1, 12 * kHour, "longest single venting, whatever was predicted"),
    key<&P::effect_deadline>("effect_deadline", 1, 30 * kMin, "by then half of the expected fall must be seen"),
    key<&P::shut_watch>("shut_watch", 1, 30 * kMin, "pressure watched after a close for a vent that stays open"),
    key<&P::settle_after_refill>("settle_after_refill", 1, 2 * kHour,
                                 "after a refill's end the pressure is watched again, then the turn is free"),
    key<&P::no_refill_frees_turn>("no_refill_frees_turn", 1, 2 * kHour,
                                  "no refill begun this long after a close: the turn is free"),
    key<&P::dwell_shortest>("dwell_shortest", 1, 24 * kHour, "shortest rest between two ventings of a riser tap"),
    key<&P::dwell>("dwell", 1, 48 * kHour, "first rest between two ventings of a riser tap, so that the gas can mix"),
    key<&P::dwell_longest>("dwell_longest", 1, 7 * kDay, "longest rest between two ventings of a riser tap"),
    key<&P::pause_exhausted>("pause_exhausted", 1, 7 * kDay,
                             "pause when three ventings running brought almost nothing"),
    key<&P::pauses_before_stall>("pauses_before_stall", 1, 20, "so many pauses, then the purge is called stalled"),
    key<&P::contents_before_stall>("contents_before_stall", 2, 60,
                                   "so many contents vented, then the purge is called stalled"),
    key<&P::rest_first>("rest_first", 1, 14 * kDay, "rest before the first proof of the target"),
    key<&P::rest_second>("rest_second", 1, 30 * kDay, "rest, counted from the last venting, before the second proof"),
    key<&P::rest_after_refill>("rest_after_refill", 1, 2 * kDay, "no proof sooner than this after a refill"),
    key<&P::piece>("piece", 1, 2 * kHour, "a venting is cut at least this often for the oxygen ledger"),
    key<&P::air_check_valid>("air_check_valid", 1, 7 * kDay, "age of the analyser's air check at the second proof"),
    key<&P::feed_sample_valid>("feed_sample_valid", 1, 30 * kDay,
                               "age of the feed's oxygen reading that still permits"),
    key<&P::good_inputs_first>("good_inputs_first", 1, 2 * kHour, "good inputs after a start before the first venting"),
    key<&P::keep_sample_daily_for>("keep_sample_daily_for", 1, 60 * kDay, "mode keep: sampled daily for this long"),
    key<&P::keep_sample>("keep_sample", 1, 35 * kDay, "mode keep: then sampled this often"),
    key<&P::between_confirming_samples>("between_confirming_samples", 1, 2 * kDay,
                                        "two samples this far apart confirm a lost purity"),
    key<&P::neighbour_refill_longest>("neighbour_refill_longest", 1, 12 * kHour,
                                      "no venting while a neighbour refills longer than this"),
    key<&P::ventings_per_day>("ventings_per_day", 1, 100000, "most ventings of one system in 24 h"),
    key<&P::open_per_day>("open_per_day", 1, 24 * kHour, "longest open time of one vent in 24 h"),
    key<&P::concurrent>("concurrent", 1, 6, "vents open at once on one supply"),
    key<&P::starvation>("starvation", 1, 30 * kDay, "a permitted system gets its turn within this"),
    key<&P::quick_opening_fall>("quick_opening_fall", 0.1 * kPsi / kMin, 2 * kPsi / kMin,
                                "fastest fall with a quick-opening device on the valve"),
};

}  // namespace

std::span<const VentingKey> venting_keys() { return kKeys; }

void read_venting(VentingParams& params, const std::optional<Field>& f) {
  if (!f) return;
  Section s(*f, "{dwell: 60 min}");
  for (const VentingKey& k : kKeys) {
    const auto v = s.get(k.key);
    if (!v) continue;
    if (k.whole) {
      if (const auto n = read_integer(*v, std::lround(k.low), std::lround(k.high)))
        k.set(params, static_cast<double>(*n));
    } else if (const auto si = read_quantity(*v, k.dimension, {k.low, k.high})) {
      k.set(params, *si);
    }
  }
  if (params.dwell < params.dwell_shortest || params.dwell > params.dwell_longest)
    f->error("dwell is not between dwell_shortest and dwell_longest", "order the three");
  if (params.rest_second <= params.rest_first)
    f->error("rest_second is not longer than rest_first", "both count from the last venting: make the second longer");
}

}  // namespace riserkeep
