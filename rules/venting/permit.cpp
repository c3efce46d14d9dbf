#include <algorithm>

#include "rules/alarms/board.h"
#include "rules/analyser.h"
#include "rules/text.h"
#include "rules/venting/ladder.h"
#include "rules/venting/measure.h"
#include "rules/venting/venting.h"
#include "rules/tasks/windows.h"

namespace riserkeep {
namespace {

constexpr double kRoomOpen = 20.4, kRoomShut = 20.0;     // % O2 by the room's monitor
constexpr double kFeedBegin = 0.5, kFeedGoOn = 0.3;      // % O2 below the target's

class Asking {
 public:
  Asking(const SiteView& view, SystemId id, bool open, bool pulse)
      : view_(view), site_(view.site), id_(id), s_(view.site[id]), v_(view.vent(id)), open_(open), pulse_(pulse) {
    permit_.system = id;
  }
  Permit all() &&;

 private:
  void row(std::string_view what, bool ok, std::string now, std::string needs) {
    permit_.checks.push_back({what, ok, true, std::move(now), std::move(needs)});
  }
  void will();
  void people();
  void start();
  void pressure();
  void contact(std::string_view what, std::optional<ChannelId>, std::string_view when_set, std::string_view when_clear);
  void room();
  void feed();
  void neighbours();
  void turn();
  void analyser();
  void rate();
  void day();
  void output();

  const SiteView& view_;
  const Site& site_;
  SystemId id_;
  const System& s_;
  const VentState& v_;
  bool open_, pulse_;
  Permit permit_;
};

void Asking::will() {
  const bool wants = v_.mode == Mode::purge || (v_.mode == Mode::keep && v_.stage != PurgeStage::none);
  row("mode", wants, std::string(word(v_.mode)), "mode purge, or keep with a cause to vent");
  row("commissioned", v_.commissioning.done,
      v_.commissioning.done ? "by " + v_.commissioning.by : v_.commissioning.voided_why.empty() ? "not yet" : v_.commissioning.voided_why,
      "a commissioning, signed");
}

void Asking::people() {
  const WorkWindow* work = view_.work ? view_.work->at(id_) : nullptr;
  row("work", !work, work ? work->what + (work->who.empty() ? "" : ", by " + work->who) : "none", "no work on this system");
  row("lock", !v_.locked, v_.locked ? v_.locked_why : "free", "no lock");
  if (const auto& c = site_[s_.room].lockout) contact("lockout switch", c, "set", "released");
  const bool critical = view_.alarms.any_critical(site_, id_) || view_.alarms.any_critical(site_, s_.room);
  row("alarms", !critical, critical ? "a critical alarm stands here or in the room" : "nothing critical", "nothing critical");
}

void Asking::start() {
  if (open_) return;
  const Duration since = view_.now - view_.started;
  row("start", since >= site_.venting.good_inputs_first, "running for " + duration_text(since),
      duration_text(site_.venting.good_inputs_first) + " of good inputs after a start");
}

void Asking::pressure() {
  const Ladder l = ladder_now(view_, id_);
  const auto p = view_.channels.pressure(site_, s_.pressure, view_.now);
  const bool fresh = view_.channels.good_and_fresh(site_, s_.pressure, view_.now);
  const auto age = view_.channels.age(s_.pressure, view_.now);
  row("pressure", fresh && p, fresh ? "good" : age ? "last " + duration_text(*age) + " ago or not good" : "never read",
      "good and younger than " + duration_text(3 * site_[s_.pressure].poll));
  const GaugePressure least = pulse_ && open_ ? l.floor : pulse_ ? l.floor + psi(1) : open_ ? l.close_at : l.open_from;
  row("air", p && *p > least, p ? psi_text(*p) : "unknown", "above " + psi_text(least));
  row("fall", pulse_ || share_vented_per_second(view_, id_) > 0, share_vented_per_second(view_, id_) > 0 ? "known" : "neither volume nor a learned rate",
      "a known rate of fall");
  const bool slow = !l.reaction || *l.reaction >= minutes(30) || (s_.vent && s_.vent->short_reaction);
  row("reaction time", slow, l.reaction ? duration_text(*l.reaction) + " from cut-out to trip with the vent stuck open" : "no trip by loss of air, or not known yet",
      "30 min, or vent: {short_reaction: why} in the site file");
}

void Asking::contact(std::string_view what, std::optional<ChannelId> c, std::string_view when_set, std::string_view when_clear) {
  if (!c) return;
  const auto now = view_.channels.contact(site_, c, view_.now);
  row(what, now && !*now, std::string(!now ? "no good reading" : *now ? when_set : when_clear), std::string(when_clear) + ", read lately");
}

void Asking::room() {
  const Room& room = site_[s_.room];
  if (!room.vents_into_room) return;
  const auto o2 = view_.channels.value(site_, room.oxygen, view_.now);
  const double least = open_ ? kRoomShut : kRoomOpen;
  row("room oxygen", o2 && *o2 >= least, o2 ? fixed(*o2, 1) + " % O2" : "no live monitor", "live, " + fixed(least, 1) + " % O2 or more");
}

void Asking::feed() {
  const bool failed = view_.alarms.standing(ClassId::supply_failed, s_.supply);
  row("feed", !failed, failed ? "supply failed" : "present", "nitrogen present");
  contact("air bypass", site_[s_.supply].air_bypass, "open, the feed is air", "shut");
  const bool air = view_.alarms.standing(ClassId::supply_is_air, s_.supply);
  row("feed is nitrogen", !air, air ? "the feed is air" : "nothing speaks for air", "nitrogen");
  const Feed f = feed_of(view_, s_.supply);
  const auto target = target_of(view_, id_);
  if (!target) return row("target", false, "none", "purity: {target: ...} in the site file");
  const double most = target->percent() - (open_ ? kFeedGoOn : kFeedBegin);
  const bool fresh = f.measured ? view_.now - f.at <= site_.venting.feed_sample_valid : !f.measurable;
  const std::string source = f.measured ? ", measured " + duration_text(view_.now - f.at) + " ago" : f.measurable ? ", not measured yet" : ", as configured";
  row("feed oxygen", fresh && f.oxygen.percent() <= most + 1e-9, percent_text(f.oxygen) + source,
      "at most " + fixed(most, 1) + " % O2" + (f.measurable ? ", measured within " + duration_text(site_.venting.feed_sample_valid) : ""));
}

void Asking::neighbours() {
  for (const SystemId n : systems_by_id(site_)) {
    if (n == id_ || site_[n].supply != s_.supply) continue;
    const auto p = view_.channels.pressure(site_, site_[n].pressure, view_.now);
    const GaugePressure least = view_.vent(n).cut_in_seen - psi(1);
    const auto& refill = view_.twin(n).refills().current();
    const bool fed = !refill || view_.now - refill->began <= site_.venting.neighbour_refill_longest;
    row("neighbours", p && *p >= least && fed,
        site_[n].name + " " + (p ? psi_text(*p) : "unknown") + (fed ? "" : ", refilling for " + duration_text(view_.now - refill->began)),
        "each at " + psi_text(least) + " or more, none refilling longer than " + duration_text(site_.venting.neighbour_refill_longest));
  }
}

void Asking::turn() {
  if (open_) return;
  int others = 0;
  for (std::size_t i = 0; i < site_.systems.size(); ++i)
    if (i != id_.index && site_.systems[i].supply == s_.supply && busy(view_.vents[i])) ++others;
  const int most = pulse_ ? 1 : site_.venting.concurrent;
  row("turn", others < most, others == 0 ? "nobody else has it" : fixed(others, 0) + " other on this supply", "fewer than " + fixed(most, 0) + " at once on this supply");
  const bool running = supply_refilling(view_, s_.supply);
  row("refill", !running, running ? "one runs on this supply" : "none runs", "no refill running on this supply");
}

void Asking::analyser() {
  if (!s_.purity) return;
  const AnalyserId a = s_.purity->analyser;
  const bool alive = view_.channels.value(site_, site_[a].oxygen, view_.now).has_value();
  row("analyser", alive, alive ? "alive" : std::string(word(view_.channels.why_not(site_, site_[a].oxygen, view_.now))), "alive");
  const bool failed = view_.analysers[a.index].air_check_failed;
  row("air check", !failed, failed ? "failed: the cell is at fault" : "not failed", "a cell that reads air as 20.95 +- 0.6 % O2");
}

void Asking::rate() {
  if (!s_.valve.quick_opening) return;
  const auto p = view_.channels.pressure(site_, s_.pressure, view_.now);
  const PressureRate fall = PressureRate::from_si(share_vented_per_second(view_, id_) * content_of(view_, id_, p.value_or(s_.air.cut_out)));
  row("quick-opening device", fall <= site_.venting.quick_opening_fall, fixed(in_psi_per_minute(fall), 2) + " psi/min",
      "at most " + fixed(in_psi_per_minute(site_.venting.quick_opening_fall), 2) + " psi/min");
}

void Asking::day() {
  const int n = static_cast<int>(v_.openings.size()), most = site_.venting.ventings_per_day;
  row("ventings", open_ ? n <= most : n < most, fixed(n, 0) + " in 24 h", "fewer than " + fixed(most, 0));
  const Duration today = v_.open_time_today;
  row("open time", today < site_.venting.open_per_day, duration_text(today) + " in 24 h", "less than " + duration_text(site_.venting.open_per_day));
}

void Asking::output() {
  const OutputSeen& o = view_.outputs[s_.vent->output.index];
  const auto& link = site_[s_.vent->output].link;
  const bool up = !link || !view_.links[link->index].known || view_.links[link->index].up;
  row("link to the vent", up, up ? "up" : "down", "up");
  if (open_) return;
  row("vent", o.state == OutputState::shut && !o.commanded_open, o.state == OutputState::shut ? "read back shut" : o.state == OutputState::open ? "read back open" : "not read back",
      "read back shut");
}

Permit Asking::all() && {
  if (!s_.vent) {
    row("vent", false, "none", "vent: {relay: ..., bore: ...} in the site file");
    return std::move(permit_);
  }
  if (!pulse_) will();
  people();
  start();
  pressure();
  contact("low air contact", s_.low_air, "says low air", "says air is there");
  contact("waterflow", s_.waterflow, "water flows", "clear");
  contact("fire", s_.fire, "set", "clear");
  room();
  if (!pulse_) feed();
  neighbours();
  turn();
  if (!pulse_) analyser();
  rate();
  if (!pulse_) day();
  output();
  return std::move(permit_);
}

}  // namespace

bool Permit::permitted() const {
  return std::all_of(checks.begin(), checks.end(), [](const Check& c) { return c.ok; });
}

std::vector<Refusal> Permit::refusals() const {
  std::vector<Refusal> out;
  for (const Check& c : checks)
    if (!c.ok) out.push_back({c.what, c.now, c.needs});
  return out;
}

Permit permit(const SiteView& view, SystemId id, bool already_open) { return Asking(view, id, already_open, false).all(); }
Permit permit_pulse(const SiteView& view, SystemId id, bool already_open) { return Asking(view, id, already_open, true).all(); }

}  // namespace riserkeep
