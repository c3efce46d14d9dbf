// Every field of every input, said once: the packed form and the JSON form both walk these lists, for writing
// and for reading. A new alternative of Input or of a command does not compile until it has its name here.
#pragma once

#include <array>
#include <string_view>
#include <variant>

#include "rules/input.h"

namespace riserkeep {

inline constexpr auto kInputNames = std::to_array<std::string_view>(
    {"reading", "command", "link", "output", "box", "wall", "calendar", "resumed", "elapsed", "stopping"});
static_assert(kInputNames.size() == std::variant_size_v<Input>);

using CommandKind = decltype(OperatorCommand::what);
inline constexpr auto kCommandNames = std::to_array<std::string_view>(
    {"acknowledge", "release", "set_mode", "commission", "lock_out", "hand_reading", "shelve", "unshelve", "out_of_service",
     "work_start", "work_end", "chore_done", "repair", "test_notice"});
static_assert(kCommandNames.size() == std::variant_size_v<CommandKind>);

constexpr const auto& names_of(const Input*) { return kInputNames; }
constexpr const auto& names_of(const CommandKind*) { return kCommandNames; }

template <class E> struct EnumWords;
template <> struct EnumWords<Quality> { static constexpr auto words = std::to_array<std::string_view>({"good", "uncertain", "bad"}); };
template <> struct EnumWords<Why> { static constexpr auto words = std::to_array<std::string_view>({"none", "stale", "retained", "out_of_range", "failed_low", "failed_high", "frozen", "no_value", "flushing", "link_lost"}); };
template <> struct EnumWords<Mode> { static constexpr auto words = std::to_array<std::string_view>({"watch", "purge", "keep"}); };
template <> struct EnumWords<OutputState> { static constexpr auto words = std::to_array<std::string_view>({"unknown", "shut", "open"}); };
template <> struct EnumWords<OutputOutcome> { static constexpr auto words = std::to_array<std::string_view>({"confirmed", "refused", "expired", "found"}); };
template <> struct EnumWords<HandReadingKind> { static constexpr auto words = std::to_array<std::string_view>({"far_end", "riser", "air_check"}); };
template <> struct EnumWords<ChoreKind> { static constexpr auto words = std::to_array<std::string_view>({"gauge_comparison", "air_check", "hand_reading", "leak_test", "low_point_drains"}); };
template <> struct EnumWords<BoxPart> { static constexpr auto words = std::to_array<std::string_view>({"history", "messages", "clock", "config"}); };
template <> struct EnumWords<CalendarKey> { static constexpr auto words = std::to_array<std::string_view>({"morning", "quiet_hours", "window", "chore_due", "purge_due", "all_well"}); };
template <> struct EnumWords<PlaceKind> { static constexpr auto words = std::to_array<std::string_view>({"box", "room", "supply", "analyser", "system", "link"}); };

template <class F> void whole_ms(F& f, std::string_view key, Duration& x) {
  std::int64_t ms = x.count();
  f(key, ms);
  x = Duration{ms};
}

template <class F> void describe(F& f, PlaceId& x) { f("kind", x.kind); f("index", x.index); }

template <class F> void describe(F& f, Reading& x) {
  f("channel", x.channel); f("measured", x.measured); f("ticks", x.ticks); f("quality", x.quality); f("why", x.why);
}
template <class F> void describe(F& f, OperatorCommand& x) { f("who", x.who); f("what", x.what); }
template <class F> void describe(F& f, Acknowledge& x) { f("reference", x.reference); }
template <class F> void describe(F& f, Release& x) { f("system", x.system); }
template <class F> void describe(F& f, SetMode& x) { f("system", x.system); f("mode", x.mode); }
template <class F> void describe(F& f, Commission& x) {
  f("system", x.system); f("gauge_compared", x.gauge_compared); f("gauge_psi", x.gauge_psi);
}
template <class F> void describe(F& f, LockOut& x) { f("system", x.system); f("locked", x.locked); f("why", x.why); }
template <class F> void describe(F& f, HandReading& x) {
  f("place", x.place); f("kind", x.kind); f("oxygen", x.oxygen); f("meter", x.meter);
}
template <class F> void describe(F& f, Shelve& x) {
  f("target", x.target.text); whole_ms(f, "how_long_ms", x.how_long); f("until_clear", x.until_clear); f("why", x.why);
}
template <class F> void describe(F& f, Unshelve& x) { f("target", x.target.text); }
template <class F> void describe(F& f, OutOfService& x) { f("target", x.target.text); f("out", x.out); f("why", x.why); }
template <class F> void describe(F& f, WorkStart& x) { f("system", x.system); f("what", x.what); whole_ms(f, "how_long_ms", x.how_long); }
template <class F> void describe(F& f, WorkEnd& x) {
  f("system", x.system); f("reset", x.reset); f("drained", x.drained); f("water_valve_open", x.water_valve_open);
  f("gas", x.gas); f("except", x.except);
}
template <class F> void describe(F& f, ChoreDone& x) {
  f("place", x.place); f("kind", x.kind); f("as_found", x.as_found); f("as_left", x.as_left); f("remark", x.remark);
}
template <class F> void describe(F& f, Repair& x) { f("place", x.place); f("what", x.what); }
template <class F> void describe(F& f, TestNotice& x) { f("person", x.person); }
template <class F> void describe(F& f, LinkChanged& x) { f("link", x.link); f("up", x.up); }
template <class F> void describe(F& f, OutputObserved& x) {
  f("output", x.output); f("order", x.order); f("outcome", x.outcome); f("state", x.state);
}
template <class F> void describe(F& f, BoxHealth& x) { f("part", x.part); f("well", x.well); f("why", x.why); }
template <class F> void describe(F& f, WallMapped& x) {
  f("wall_minus_engine_ms", x.wall_minus_engine_ms); f("synchronised", x.synchronised);
}
template <class F> void describe(F& f, CalendarTurned& x) { f("key", x.key); f("begins", x.begins); f("index", x.index); f("local_day", x.local_day); }
template <class F> void describe(F& f, Resumed& x) { f("gap_known", x.gap_known); }
template <class F> void describe(F&, Elapsed&) {}
template <class F> void describe(F& f, Stopping& x) { f("why", x.why); }

// Makes `v` hold a fresh alternative number `index`, which must be in range.
template <class... T>
void emplace_nth(std::variant<T...>& v, std::size_t index) {
  [&]<std::size_t... I>(std::index_sequence<I...>) {
    ((I == index ? void(v.template emplace<I>()) : void()), ...);
  }(std::index_sequence_for<T...>{});
}

}  // namespace riserkeep
