#include "drivers/plant/faults.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <vector>

#include <fmt/format.h>

namespace riserkeep {

namespace {

enum class Needs : std::uint8_t { none, optional, needed };

struct Phrase {
  FaultKind kind;
  PlaceKind place;
  std::string_view words;  // after the place; separated by one space
  Needs amount;
  double usual, low, high;  // of the amount
  std::string_view help;
};

constexpr std::array kPhrases{
    Phrase{FaultKind::leak, PlaceKind::system, "leak", Needs::needed, 0, 0, 500,
           "psi in 24 h at 40 psi, on top of what leaks already"},
    Phrase{FaultKind::vent_stuck, PlaceKind::system, "vent stuck", Needs::none, 0, 0, 0,
           "opens, but never shuts again"},
    Phrase{FaultKind::vent_blocked, PlaceKind::system, "vent blocked", Needs::optional, 100, 0, 100,
           "percent of the bore that is lost"},
    Phrase{FaultKind::gauge_frozen, PlaceKind::system, "gauge frozen", Needs::none, 0, 0, 0, "repeats its last value"},
    Phrase{FaultKind::gauge_dead, PlaceKind::system, "gauge dead", Needs::none, 0, 0, 0, "gives nothing"},
    Phrase{FaultKind::gauge_offset, PlaceKind::system, "gauge offset", Needs::needed, 0, -200, 200,
           "psi added to the reading"},
    Phrase{FaultKind::sprinkler_open, PlaceKind::system, "sprinkler open", Needs::none, 0, 0, 0,
           "an open head at the far end"},
    Phrase{FaultKind::waterflow, PlaceKind::system, "waterflow", Needs::none, 0, 0, 0, "the contact closes"},
    Phrase{FaultKind::fire, PlaceKind::system, "fire", Needs::none, 0, 0, 0, "the contact closes"},
    Phrase{FaultKind::dead, PlaceKind::supply, "dead", Needs::none, 0, 0, 0, "feeds nothing"},
    Phrase{FaultKind::impure, PlaceKind::supply, "impure", Needs::needed, 0, 0, 21, "percent oxygen in the feed"},
    Phrase{FaultKind::air_bypass, PlaceKind::supply, "air", Needs::none, 0, 0, 0, "feeds air, bypass contact on"},
    Phrase{FaultKind::dead, PlaceKind::analyser, "dead", Needs::none, 0, 0, 0, "gives nothing"},
    Phrase{FaultKind::frozen, PlaceKind::analyser, "frozen", Needs::none, 0, 0, 0, "repeats its last value"},
    Phrase{FaultKind::offset, PlaceKind::analyser, "offset", Needs::needed, 0, -25, 25,
           "percent oxygen added to the reading"},
    Phrase{FaultKind::silent, PlaceKind::link, "silent", Needs::none, 0, 0, 0, "nothing on it answers"},
    Phrase{FaultKind::lockout, PlaceKind::room, "lockout", Needs::none, 0, 0, 0, "the vent lock-out switch is on"},
};

std::vector<std::string_view> split(std::string_view text) {
  std::vector<std::string_view> out;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t begin = text.find_first_not_of(" \t\r\n", at);
    if (begin == std::string_view::npos) break;
    const std::size_t end = std::min(text.find_first_of(" \t\r\n", begin), text.size());
    out.push_back(text.substr(begin, end - begin));
    at = end;
  }
  return out;
}

std::optional<double> number(std::string_view text) {
  double v = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), v);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(v)) return std::nullopt;
  return v;
}

std::string_view kind_word(PlaceKind k) {
  switch (k) {
    case PlaceKind::box:
      return "box";
    case PlaceKind::room:
      return "room";
    case PlaceKind::supply:
      return "supply";
    case PlaceKind::analyser:
      return "analyser";
    case PlaceKind::system:
      return "system";
    case PlaceKind::link:
      return "link";
  }
  return "place";
}

std::string all_places(const Site& site) {
  std::string out;
  const auto add = [&out](const auto& list) {
    for (const auto& each : list) out += (out.empty() ? "" : ", ") + each.id;
  };
  add(site.systems);
  add(site.supplies);
  add(site.analysers);
  add(site.rooms);
  add(site.links);
  return out;
}

std::string phrases_of(PlaceKind kind) {
  std::string out;
  for (const Phrase& p : kPhrases)
    if (p.place == kind) out += fmt::format("{}'{}'", out.empty() ? "" : ", ", p.words);
  return out.empty() ? "nothing" : out;
}

// How many of the words the phrase takes; 0: another phrase.
std::size_t matches(const Phrase& p, const std::vector<std::string_view>& words, std::size_t from) {
  const auto wanted = split(p.words);
  if (words.size() < from + wanted.size()) return 0;
  return std::equal(wanted.begin(), wanted.end(), words.begin() + static_cast<std::ptrdiff_t>(from)) ? wanted.size()
                                                                                                     : 0;
}

using Parsed = std::variant<Fault, std::string>;

Parsed with_amount(const Phrase& p, PlaceId place, const std::vector<std::string_view>& words, std::size_t at) {
  if (words.size() > at + 1 || (words.size() > at && p.amount == Needs::none))
    return fmt::format("'{}' is one word too many after '{}'", words[p.amount == Needs::none ? at : at + 1], p.words);
  if (words.size() == at) {
    if (p.amount == Needs::needed) return fmt::format("'{}' needs a number: {}", p.words, p.help);
    return Fault{p.kind, place, p.usual};
  }
  const auto amount = number(words[at]);
  if (!amount) return fmt::format("'{}' is not a number: {} takes {}", words[at], p.words, p.help);
  if (*amount < p.low || *amount > p.high)
    return fmt::format("'{}' is out of range: {} takes {} to {}, {}", words[at], p.words, p.low, p.high, p.help);
  return Fault{p.kind, place, *amount};
}

Parsed unit_fault(const std::vector<std::string_view>& words) {
  if (words.size() != 3 || words[2] != "silent") return std::string("a unit can only fall silent: 'unit 3 silent'");
  const auto unit = number(words[1]);
  if (!unit || *unit < 0 || *unit > 255 || *unit != std::floor(*unit))
    return fmt::format("'{}' is not a Modbus unit, 0 to 255", words[1]);
  return Fault{FaultKind::unit_silent, PlaceId{}, *unit};
}
}  // namespace

std::variant<Fault, std::string> parse_fault(const Site& site, std::string_view text) {
  const auto words = split(text);
  if (words.empty()) return std::string("no fault given, for example 'PLACE leak 12'; see 'help'");
  if (words[0] == "power" && words.size() == 2 && words[1] == "cut") return Fault{FaultKind::power_cut, PlaceId{}, 0};
  if (words[0] == "unit") return unit_fault(words);
  const auto place = find_place(site, words[0]);
  if (!place || place->kind == PlaceKind::box)
    return fmt::format("'{}' is no place of this site; there are: {}, also 'unit N silent' and 'power cut'", words[0],
                       all_places(site));
  for (const Phrase& p : kPhrases) {
    if (p.place != place->kind) continue;
    if (const std::size_t taken = matches(p, words, 1)) return with_amount(p, *place, words, 1 + taken);
  }
  return fmt::format("'{}' does not say what happens to the {} '{}'; it can be: {}",
                     words.size() > 1 ? words[1] : std::string_view{}, kind_word(place->kind), words[0],
                     phrases_of(place->kind));
}

std::string fault_text(const Site& site, const Fault& f) {
  if (f.kind == FaultKind::power_cut) return "power cut";
  if (f.kind == FaultKind::unit_silent) return fmt::format("unit {} silent", f.amount);
  for (const Phrase& p : kPhrases) {
    if (p.kind != f.kind || p.place != f.place.kind) continue;
    std::string out = fmt::format("{} {}", place_id(site, f.place), p.words);
    return p.amount == Needs::none ? out : fmt::format("{} {}", out, f.amount);
  }
  return "unknown";
}

std::string fault_help() {
  std::string out;
  for (const Phrase& p : kPhrases) {
    const std::string_view amount = p.amount == Needs::needed ? " N" : p.amount == Needs::optional ? " [N]" : "";
    std::string place(kind_word(p.place));
    std::transform(place.begin(), place.end(), place.begin(), [](char c) { return static_cast<char>(c - 'a' + 'A'); });
    out += fmt::format("  {:<28}{}\n", fmt::format("{} {}{}", place, p.words, amount), p.help);
  }
  out += fmt::format("  {:<28}{}\n", "unit N silent", "this Modbus unit does not answer");
  out += fmt::format("  {:<28}{}", "power cut", "outputs fall to safe, supplies stop, nothing answers");
  return out;
}

}  // namespace riserkeep
