#include "rules/notices/paragraph.h"

#include <algorithm>

#include "rules/text.h"

namespace riserkeep {
namespace {

constexpr std::size_t kMostReadings = 6;

std::string capital(std::string_view s) {
  std::string out{s};
  if (!out.empty() && out[0] >= 'a' && out[0] <= 'z') out[0] = static_cast<char>(out[0] - 'a' + 'A');
  return out;
}

std::string state_line(const SiteView& view, const Occurrence& o) {
  const AlarmClass& c = class_of(o.alarm);
  std::string out = capital(word(o.priority)) + ": " + std::string{place_name(view.site, o.place)} + ", " + std::string{c.what};
  if (o.value) out += ": " + fixed(*o.value, c.decimals) + " " + std::string{o.unit};
  if (o.limit) out += ", limit " + fixed(*o.limit, c.decimals);
  if (view.now - o.since >= seconds(1)) out += ", for " + duration_text(view.now - o.since);
  return out + ".";
}

}  // namespace

std::string old_readings(const SiteView& view, PlaceId place) {
  std::string out;
  std::size_t count = 0;
  for (std::size_t i = 0; i < view.site.channels.size(); ++i) {
    const ChannelId id{static_cast<std::uint16_t>(i)};
    const Channel& c = view.site[id];
    if (c.place != place) continue;
    const Why why = view.channels.why_not(view.site, id, view.now);
    if (why == Why::none || ++count > kMostReadings) continue;
    const auto age = view.channels.age(id, view.now);
    out += (out.empty() ? "" : ", ") + std::string{signal_word(c)} + " (" +
           (age ? std::string{word(why)} + ", " + duration_text(*age) + " old" : std::string{"never read"}) + ")";
  }
  if (count > kMostReadings) out += " and " + fixed(static_cast<double>(count - kMostReadings), 0) + " more";
  std::ranges::replace(out, '_', ' ');
  return out;
}

std::string acknowledge_words(std::string_view reference) {
  return "To acknowledge: riserkeep ack " + std::string{reference} + " --by NAME";
}

std::string paragraph(const SiteView& view, const Occurrence& o) {
  std::string out = state_line(view, o) + "\n";
  if (!o.cause.empty()) out += "Seen: " + std::string{o.cause} + ".\n";
  if (const std::string what = consequence(view, o); !what.empty()) out += "What follows: " + what + "\n";
  out += "First: " + first_action(view.site, o.alarm, o.place) + "\n";
  if (const std::string old = old_readings(view, o.place); !old.empty()) out += "Old readings here: " + old + ".\n";
  return out + acknowledge_words(o.reference) + "\n";
}

}  // namespace riserkeep
