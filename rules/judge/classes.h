// The alarm table: one row per class. Category, priority and delays after ISA-18.2-2016 / IEC 62682:2014
// practice; categories after the NFPA 72 terms (supervisory, trouble). Priority follows consequence.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "rules/effect.h"
#include "rules/ids.h"
#include "rules/site.h"
#include "rules/time.h"

namespace riserkeep {

// A set of classes, one bit each.
class ClassSet {
 public:
  constexpr ClassSet() = default;
  template <class... C>
  static constexpr ClassSet of(C... c) { return ClassSet{(0u | ... | bit(c))}; }
  constexpr bool has(ClassId c) const { return (bits_ & bit(c)) != 0; }
  constexpr bool empty() const { return bits_ == 0; }

 private:
  explicit constexpr ClassSet(std::uint32_t b) : bits_(b) {}
  static constexpr std::uint32_t bit(ClassId c) { return 1u << static_cast<unsigned>(c); }
  std::uint32_t bits_ = 0;
};
static_assert(kClassCount <= 32);

struct AlarmClass {
  ClassId id{};
  Category category{};
  Priority priority{};               // unless the verdict asks for another
  Duration on_delay{}, off_delay{};  // proven time: grows on good evidence only
  bool latching = false;             // stays until released by name
  ClassSet suppressed_by;            // standing at the same place or one it depends on: notices only, never states
  std::string_view unit;             // of value and limit; empty: there is none
  int decimals = 1;
  std::string_view what;             // "air is low": follows the place in the short text
  std::string_view act;              // first act in a few words, for the short text
  std::string_view first_action;     // first act in one or two sentences
};

const AlarmClass& class_of(ClassId);

// What a rendered text needs of one occurrence.
struct Occurrence {
  ClassId alarm{};
  PlaceId place;
  Priority priority{};
  EngineTime since;
  std::optional<double> value, limit;
  std::string_view unit, cause, reference;
};

inline constexpr std::size_t kShortText = 160;  // one text message: septets of the GSM 7-bit alphabet

// At most kShortText GSM septets: priority, place, what, value, limit, for how long, first act, reference.
// `before` all that: "Reminder: ". What does not fit is cut from the cause, then from the place.
std::string alarm_text(const Site&, const Occurrence&, EngineTime now, std::string_view before = {});
std::string cleared_text(const Site&, const Occurrence&, EngineTime now);
// One text message of GSM letters: `text`, cut where it must be, and all of `tail`.
std::string shortened(const std::string& text, const std::string& tail = {});
// The site's own words where its file has some, else the table's. Led by a word on the room's oxygen where
// the room could lack it.
std::string first_action(const Site&, ClassId, PlaceId);

// Only characters of the GSM 7-bit basic alphabet (3GPP TS 23.038), UTF-8 encoded; others are replaced.
std::string gsm_only(std::string_view utf8);
std::size_t gsm_length(std::string_view gsm);

}  // namespace riserkeep
