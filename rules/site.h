// The engine's view of one site: plain, validated, immutable. Filled by config/, never changed later.
// Everything here is complete: what a fitter may leave out has had its default applied.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/ids.h"
#include "rules/input.h"
#include "rules/quantities.h"
#include "rules/reading.h"
#include "rules/time.h"
#include "rules/units.h"

namespace riserkeep {

// One measured point. Its CSV identity is (id of the place, signal word or auxiliary id).
struct Channel {
  PlaceId place;
  Signal signal = Signal::pressure;
  std::string auxiliary_id;          // only for Signal::auxiliary
  Duration poll = seconds(10);       // expected interval between readings
  Duration stale_after = seconds(60);
  double span_low = 0, span_high = 0;  // of the instrument in printed units; equal = unknown
  std::optional<LinkId> link;        // absent in replay and rehearsal
};

// Safe, the coil off: shut, shut, open. `box_well` is on while the box is well; the engine never moves it.
enum class OutputKind : std::uint8_t { vent, sample_port, supply_valve, box_well };

struct Output {
  std::string id;                    // "loading-dock vent", "shared port supply"
  OutputKind kind = OutputKind::vent;
  PlaceId place;                     // vent: its system; port: the point that is sampled
  std::optional<AnalyserId> analyser;  // ports only
  std::optional<LinkId> link;
  Duration valve_travel = seconds(1);
  Duration reply_time_out = seconds(1);
  std::optional<Duration> device_time_out;  // the device drops the coil by itself after this silence
};

struct Link {
  std::string id;
  bool is_broker = false;
};

struct Room {
  std::string id, name;
  std::optional<Volume> volume;
  bool vents_into_room = false;      // then `oxygen` is compulsory
  std::optional<ChannelId> oxygen, temperature, lockout, barometer;
};

enum class SupplySource : std::uint8_t { generator, cylinders, compressor };

struct Supply {
  std::string id, name;
  RoomId room;
  SupplySource source = SupplySource::generator;
  std::optional<MolarFlow> flow;     // what it can feed
  OxygenFraction oxygen = oxygen_percent(1.0);  // as configured; permits but never verifies
  std::optional<ChannelId> pressure, air_bypass, running, flow_meter, oxygen_meter;
  std::optional<AnalyserId> analyser;  // with a port on this supply
  Duration refill_limit = minutes(30);  // NFPA 13: 30 min, 60 in refrigerated spaces
};

enum class Cell : std::uint8_t { galvanic, zirconia, optical };

struct Analyser {
  std::string id, name;
  ChannelId oxygen;                  // raw reading, not yet attributed
  Cell cell = Cell::galvanic;
  Duration flush = minutes(8);       // 5 line volumes + 3 x T90
  Duration line_delay = seconds(90);
  Duration t90 = seconds(30);
  std::vector<OutputId> ports;       // empty: sampled only while its one system vents
};

enum class SystemKind : std::uint8_t { dry_pipe, preaction_single, preaction_non, preaction_double };
enum class ValveKind : std::uint8_t { differential, latched, low_differential };

struct Valve {
  ValveKind kind = ValveKind::differential;
  double ratio = 5.5;                // water : air, differential valves
  PressureChange highest_water{};    // differential valves: highest normal water pressure
  std::optional<GaugePressure> trips_at;  // from the data sheet; compulsory for latched and non-interlocked
  GaugePressure low_air_switch;
  bool quick_opening = false;        // then at most 1 psi/min
};

struct AirMaintenance {
  GaugePressure cut_in, cut_out;
  bool regulated = false;            // a regulator holds cut_out: a venting is a sweep
};

struct Vent {
  OutputId output;
  Length bore;
  double discharge = 0.85;           // sharp-edged to short tube; common practice, from memory
  Tap tap = Tap::riser;
  std::optional<std::string> short_reaction;  // reason for a reaction time under 30 min
};

struct PurityGoal {
  OxygenFraction target = oxygen_percent(2.0);
  AnalyserId analyser;
  std::optional<OutputId> port;      // of the shared analyser
  std::optional<WallTime> purge_started, purge_due;
};

struct System {
  std::string id, name;
  SystemKind kind = SystemKind::dry_pipe;
  RoomId room;
  SupplyId supply;
  Valve valve;
  AirMaintenance air;
  GaugePressure band_low, band_high;  // supervisory band
  std::optional<Volume> volume;
  bool cold_store = false;
  ChannelId pressure;
  std::optional<ChannelId> temperature, low_air, waterflow, fire, water_pressure, oxygen;
  std::optional<Vent> vent;
  std::optional<PurityGoal> purity;
};

// Every time, count and limit of the vent decision; keys under `venting:` with bounds.
struct VentingParams {
  PressureChange limit_above_trip = psi(10);
  PressureChange margin_extra{};             // raises MARGIN
  PressureChange close_below_cut_in = psi(1.5);
  PressureChange open_above_close = psi(1);
  Duration longest_venting = minutes(60);
  Duration effect_deadline = minutes(5);
  Duration shut_watch = minutes(3);
  Duration settle_after_refill = minutes(5);
  Duration no_refill_frees_turn = minutes(5);
  Duration dwell_shortest = minutes(30), dwell = minutes(60), dwell_longest = hours(24);
  Duration pause_exhausted = hours(24);
  int pauses_before_stall = 4;
  double contents_before_stall = 15;
  Duration rest_first = hours(24), rest_second = hours(72);
  Duration rest_after_refill = hours(4);
  Duration piece = minutes(10);              // a venting is cut at least this often for the ledger
  Duration air_check_valid = hours(1);       // before the second rested sample
  Duration feed_sample_valid = hours(24);
  Duration good_inputs_first = minutes(10);  // after every start
  Duration keep_sample_daily_for = days(7), keep_sample = days(7);
  Duration between_confirming_samples = hours(1);
  Duration neighbour_refill_longest = minutes(30);
  int ventings_per_day = 24;
  Duration open_per_day = hours(12);
  int concurrent = 1;
  Duration starvation = hours(48);           // a permitted system vents within this
  PressureRate quick_opening_fall = psi_per_minute(1);
};

// Ways to reach a person, in the order they are tried.
enum class ReachBy : std::uint8_t { mail, sms_by_mail, hook };
struct Reach { ReachBy by = ReachBy::mail; std::string address; };  // hook: an https URL

// Local time of day on some days of the week.
struct DayTime {
  std::uint8_t days = 0x7f;                  // bit 0 = Monday ... bit 6 = Sunday
  bool holidays = true;                      // false: not on the site's holidays
  int minute = 0;                            // since local midnight
};
struct QuietHours { int from_minute = 0, until_minute = 0; };  // local; may span midnight

struct Person {
  std::string id;
  std::vector<Reach> reach;
  bool calls_now = false;                    // for: call now (what threatens within 8 h); else: all
  std::vector<PlaceId> places;               // only these and what they depend on; empty: the whole site
  Duration after{};                          // told when an alarm stands unacknowledged for so long
  std::optional<DayTime> at;                 // when what can wait is sent; absent: at once
  std::optional<QuietHours> quiet;           // critical ones break them
};

struct MessageParams {                       // keys under `messages:`
  Duration remind_critical = minutes(30), remind_high = hours(4), remind_medium = hours(24);
  Duration gather = seconds(10);             // one cause's alarms become one message
  int flap_changes = 4;                      // raises within flap_within: "unstable", then quiet until calm
  Duration flap_within = hours(1), calm = hours(2);
  int flood = 10;                            // messages to one person in flood_within; the rest becomes a digest
  Duration flood_within = minutes(10);
  int daily_cap = 100;                       // to one person; critical ones are never capped
  std::optional<DayTime> all_well;
  bool start_and_stop = true;
};

struct RecurringWindow {                     // maintenance at a local time
  std::string id, what, who;
  std::vector<SystemId> systems;             // empty: all
  DayTime from;
  int length_minutes = 60;
};

// What keeps the judgement honest and only a person can do. Due every so often, or before a date in the year.
struct Chore {
  ChoreKind kind{};
  PlaceId place;
  std::optional<Duration> every;
  struct Date { int month = 1, day = 1; };
  std::optional<Date> before;
};

struct ClassText { ClassId alarm{}; std::string first_action; };  // the site's own words

struct Site {
  std::string id, name, time_zone;
  AbsolutePressure atmosphere = kStandardAtmosphere;  // from the elevation
  std::vector<Room> rooms;
  std::vector<Supply> supplies;
  std::vector<Analyser> analysers;
  std::vector<System> systems;
  std::vector<Link> links;
  std::vector<Channel> channels;
  std::vector<Output> outputs;
  std::vector<Person> people;
  MessageParams messages;
  std::vector<RecurringWindow> windows;
  std::vector<Chore> chores;
  std::vector<ClassText> texts;
  std::vector<std::string> holidays;          // local dates, "2026-12-25"
  VentingParams venting;

  const System& operator[](SystemId i) const { return systems[i.index]; }
  const Supply& operator[](SupplyId i) const { return supplies[i.index]; }
  const Analyser& operator[](AnalyserId i) const { return analysers[i.index]; }
  const Room& operator[](RoomId i) const { return rooms[i.index]; }
  const Link& operator[](LinkId i) const { return links[i.index]; }
  const Channel& operator[](ChannelId i) const { return channels[i.index]; }
  const Output& operator[](OutputId i) const { return outputs[i.index]; }
};

std::string_view place_id(const Site&, PlaceId);    // "loading-dock"; the box is "box"
std::string_view place_name(const Site&, PlaceId);  // "Loading dock"
std::optional<PlaceId> find_place(const Site&, std::string_view id);
std::optional<SystemId> find_system(const Site&, std::string_view id_or_name);
std::optional<ChannelId> find_channel(const Site&, PlaceId, std::string_view signal_or_auxiliary);
std::string_view signal_word(const Channel&);

}  // namespace riserkeep
