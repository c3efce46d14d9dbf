// Texts of the alarm table: one text message, and the first act.
#include <algorithm>
#include <array>
#include <cctype>

#include "rules/judge/classes.h"
#include "rules/text.h"

namespace riserkeep {
namespace {

// Beyond ASCII, the basic alphabet's letters and signs (3GPP TS 23.038 table 6.2.1), as UTF-8.
constexpr std::array<std::string_view, 39> kBeyondAscii{
    "£", "¥", "è", "é", "ù", "ì", "ò", "Ç", "Ø", "ø", "Å", "å", "Δ", "Φ", "Γ", "Λ", "Ω", "Π", "Ψ", "Σ",
    "Θ", "Ξ", "Æ", "æ", "ß", "É", "¤", "¡", "Ä", "Ö", "Ñ", "Ü", "§", "¿", "ä", "ö", "ñ", "ü", "à"};

// ASCII that is missing from the alphabet, or costs two septets, and what stands for it.
constexpr std::string_view kAwkward = "[]{}\\^~|`";
constexpr std::string_view kPlain = "()()/'-/'";

std::size_t bytes_of(char lead) {
  const auto b = static_cast<unsigned char>(lead);
  return b < 0x80 ? 1 : b < 0xE0 ? 2 : b < 0xF0 ? 3 : 4;
}

char plain_ascii(char c) {
  if (c == '\n' || c == '\t') return ' ';
  if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) return '?';
  const auto at = kAwkward.find(c);
  return at == std::string_view::npos ? c : kPlain[at];
}

bool in_alphabet(std::string_view letter) { return std::ranges::find(kBeyondAscii, letter) != kBeyondAscii.end(); }

std::string cut(std::string text, std::size_t letters) {
  std::size_t at = 0, n = 0;
  while (at < text.size() && n < letters) {
    at += bytes_of(text[at]);
    ++n;
  }
  text.resize(std::min(at, text.size()));
  return text;
}

// Shortens `part` so that all fits; a part that is cut ends in two dots.
std::string fitted(std::string part, std::size_t room) {
  if (gsm_length(part) <= room) return part;
  return room > 2 ? cut(std::move(part), room - 2) + ".." : std::string{};
}

bool may_lack_oxygen(const Room& r) { return r.vents_into_room || r.oxygen; }

bool oxygen_matters(const Site& site, PlaceId place) {
  const auto room_of = [&](RoomId r) -> bool { return r.index < site.rooms.size() && may_lack_oxygen(site[r]); };
  switch (place.kind) {
    case PlaceKind::system: return room_of(site.systems[place.index].room);
    case PlaceKind::supply: return room_of(site.supplies[place.index].room);
    case PlaceKind::room: return may_lack_oxygen(site.rooms[place.index]);
    case PlaceKind::box: case PlaceKind::link: case PlaceKind::analyser: break;
  }
  return std::ranges::any_of(site.rooms, may_lack_oxygen);
}

// Classes whose first act is done from anywhere but the riser room.
constexpr ClassSet kActsElsewhere = ClassSet::of(
    ClassId::room_oxygen, ClassId::valve_operated, ClassId::leak, ClassId::leak_growing, ClassId::purity_low,
    ClassId::purity_stall, ClassId::purge_overdue, ClassId::messages_undelivered, ClassId::clock_unsure, ClassId::config_rejected);
bool acts_elsewhere(ClassId c) { return kActsElsewhere.has(c); }

std::string upper(std::string_view s) {
  std::string out{s};
  for (char& c : out) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return out;
}

std::string figures(const Occurrence& o) {
  if (!o.value) return {};
  const int decimals = class_of(o.alarm).decimals;
  std::string out = " " + fixed(*o.value, decimals) + " " + std::string{o.unit};
  if (o.limit) out += ", limit " + fixed(*o.limit, decimals);
  return out;
}

constexpr std::size_t kLeastCause = 24;  // a cause cut shorter than this says nothing

std::string place_of(const Site& site, PlaceId p) { return gsm_only(place_name(site, p)); }

}  // namespace

std::string gsm_only(std::string_view utf8) {
  std::string out;
  for (std::size_t i = 0; i < utf8.size();) {
    const std::size_t n = bytes_of(utf8[i]);
    const std::string_view letter = utf8.substr(i, n);
    if (n == 1) out += plain_ascii(utf8[i]);
    else if (in_alphabet(letter)) out += letter;
    else out += '?';
    i += n;
  }
  return out;
}

std::size_t gsm_length(std::string_view gsm) {
  return static_cast<std::size_t>(std::ranges::count_if(gsm, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string alarm_text(const Site& site, const Occurrence& o, EngineTime now, std::string_view before) {
  const AlarmClass& c = class_of(o.alarm);
  const std::string lead = std::string{before} + upper(word(o.priority)) + " ";
  std::string what = ": " + std::string{c.what} + figures(o);
  if (now - o.since >= seconds(1)) what += ", for " + duration_text(now - o.since);
  const bool warn = oxygen_matters(site, o.place) && !acts_elsewhere(o.alarm);
  const std::string act = ". " + std::string{warn ? "Room oxygen first. " : ""} + std::string{c.act};
  const std::string end = " Ref " + std::string{o.reference};
  const std::size_t fixed_part = gsm_length(lead) + gsm_length(what) + gsm_length(act) + gsm_length(end);
  const std::size_t free = kShortText > fixed_part ? kShortText - fixed_part : 0;
  const std::string place = fitted(place_of(site, o.place), free);
  const std::string cause = gsm_only(o.cause);
  const std::size_t rest = free - std::min(free, gsm_length(place));
  const bool fits = gsm_length(cause) + 3 <= rest;
  const std::string because = cause.empty() || (!fits && rest < kLeastCause) ? std::string{} : " (" + fitted(cause, rest - 3) + ")";
  return lead + place + what + because + act + end;
}

std::string cleared_text(const Site& site, const Occurrence& o, EngineTime now) {
  const std::string what = ": over after " + duration_text(now - o.since) + ": " + std::string{class_of(o.alarm).what} +
                           ". Ref " + std::string{o.reference};
  return fitted(place_of(site, o.place), kShortText - gsm_length(what)) + what;
}

std::string shortened(const std::string& text, const std::string& tail) {
  const std::size_t end = std::min(gsm_length(tail), kShortText);
  return fitted(gsm_only(text), kShortText - end) + tail;
}

std::string first_action(const Site& site, ClassId c, PlaceId place) {
  std::string out;
  if (oxygen_matters(site, place) && !acts_elsewhere(c))
    out = "Read the room's oxygen from outside first: stay out while it is below 19.5 % or not known. ";
  const auto own = std::ranges::find(site.texts, c, &ClassText::alarm);
  return out + (own != site.texts.end() ? own->first_action : std::string{class_of(c).first_action});
}

}  // namespace riserkeep
