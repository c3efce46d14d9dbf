// Small index types, one per list of the site, so that a vent cannot be taken for a channel.
#pragma once

#include <compare>
#include <cstddef>
#include <cstdint>

namespace riserkeep {

template <class Tag>
struct Id {
  std::uint16_t index = 0;
  friend constexpr auto operator<=>(Id, Id) = default;
};

using SystemId = Id<struct SystemTag>;
using SupplyId = Id<struct SupplyTag>;
using AnalyserId = Id<struct AnalyserTag>;
using RoomId = Id<struct RoomTag>;
using LinkId = Id<struct LinkTag>;
using ChannelId = Id<struct ChannelTag>;
using OutputId = Id<struct OutputTag>;
using PersonId = Id<struct PersonTag>;

enum class PlaceKind : std::uint8_t { box, room, supply, analyser, system, link };

// Where something is: one of the site's lists and the index in it. `box` is riserkeep itself.
struct PlaceId {
  PlaceKind kind = PlaceKind::box;
  std::uint16_t index = 0;

  constexpr PlaceId() = default;
  constexpr PlaceId(PlaceKind k, std::uint16_t i) : kind(k), index(i) {}
  constexpr PlaceId(SystemId s) : kind(PlaceKind::system), index(s.index) {}
  constexpr PlaceId(SupplyId s) : kind(PlaceKind::supply), index(s.index) {}
  constexpr PlaceId(AnalyserId s) : kind(PlaceKind::analyser), index(s.index) {}
  constexpr PlaceId(RoomId s) : kind(PlaceKind::room), index(s.index) {}
  constexpr PlaceId(LinkId s) : kind(PlaceKind::link), index(s.index) {}
  friend constexpr auto operator<=>(PlaceId, PlaceId) = default;
};

enum class Seq : std::uint64_t {};           // position in the input log, grows by one
enum class OrderNo : std::uint64_t {};       // grows with every order to any output
enum class OccurrenceId : std::uint64_t {};  // one occurrence of one alarm; 0 = none
enum class NoticeId : std::uint64_t {};      // one message decided; grows by one

// Every alarm class of the product. The table behind it is rules/judge/classes.
enum class ClassId : std::uint8_t {
  valve_operated, rapid_loss, near_trip, vent_stuck_open, room_oxygen,
  pressure_low, pressure_high, supply_failed, supply_purity_low, supply_is_air,
  vent_blocked, output_mismatch, link_lost, room_cold,
  leak, leak_growing, refill_frequent, purity_low, purity_stall, purge_overdue,
  instrument_fault, history_fault, messages_undelivered, clock_unsure, config_rejected,
};
inline constexpr std::size_t kClassCount = 25;

enum class Tap : std::uint8_t { riser, far_end };  // where a vent draws its gas
enum class Priority : std::uint8_t { low, medium, high, critical };
enum class Category : std::uint8_t { maintenance, trouble, supervisory, safety };

}  // namespace riserkeep
